"""A run's story as plain text: what matters is not drowned in what repeats."""

from pathlib import Path

from monitor.export.run_text import run_text
from monitor.model.sample import Gap, Sample
from monitor.store.reader import open_store
from tests.monitor.store.bench import a_gap, a_run, a_sample, a_store, an_event


def story(path: Path, rows: list[Sample | Gap], event_at: int) -> str:
    """What is told of a run with these rows and an alarm at one of them."""
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in rows])
        writer.write([(run, an_event(event_at))])
        writer.end_run(run, rows[-1].t_ns, "time is over")
    with open_store(path) as store:
        return run_text(store.run(run))


def every_second_missing(first: int, last: int) -> list[Sample | Gap]:
    return [a_gap(seq, "poll missed") if seq % 2 else a_sample(seq) for seq in range(first, last)]


def test_many_gaps_for_one_reason_are_one_line_up_to_what_comes_between(tmp_path: Path) -> None:
    text = story(tmp_path / "a.db", every_second_missing(0, 40), event_at=20)
    told = [line.strip() for line in text.splitlines() if "no answer " in line]
    assert told == [
        "0:00  no answer 10 times until 0:03, 2.0 s in all, 0.2 s at most: poll missed",
        "0:04  no answer 10 times until 0:07, 1.8 s in all, 0.2 s at most: poll missed",
    ]


def test_a_few_gaps_are_told_one_by_one(tmp_path: Path) -> None:
    text = story(tmp_path / "a.db", every_second_missing(0, 7), event_at=6)
    told = [line.strip() for line in text.splitlines() if "no answer " in line]
    assert [line.split("  ")[1] for line in told] == ["no answer for 0.2 s: poll missed"] * 3


def test_gaps_for_other_reasons_stay_apart(tmp_path: Path) -> None:
    rows: list[Sample | Gap] = [
        row if isinstance(row, Sample) or row.seq < 20 else a_gap(row.seq, "link lost")
        for row in every_second_missing(0, 40)
    ]
    text = story(tmp_path / "a.db", rows, event_at=39)
    told = [line for line in text.splitlines() if "no answer " in line]
    assert [line.rpartition(": ")[2] for line in told][:2] == ["poll missed", "link lost"]
