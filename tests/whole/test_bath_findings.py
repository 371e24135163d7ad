"""The rules of a trial catch what they are there for."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.store.writer import StoreWriter
from tests.whole.bath_findings import judge
from tests.whole.bath_track import Strike, faults_file, track
from tests.whole.bath_trial import Trial

Rows = list[Sample | Gap]


def exchange(t_s: float, volts: float, mode: str = "constant-voltage") -> dict[str, object]:
    return {
        "t_s": t_s,
        "question": "MEAS:VOLT?;:MEAS:CURR?",
        "answer": f"{volts};5",
        "commands": [],
        "fault": None,
        "asked": "4d",
        "true": {"mode": mode},
    }


def trial(folder: Path, change: Callable[[Rows, list[dict[str, object]]], None]) -> list[str]:
    """Twenty seconds at one poll a second, changed by the test; the broken rules."""
    one = Trial(folder, speed=1.0, poll_s=1.0, strikes=[])
    one.store.parent.mkdir()
    exchanges = [exchange(float(n), 9.0 + n / 1000) for n in range(20)]
    rows: Rows = [Sample(n, n * 10**9 + 500_000, 0, 1000, 9.0 + n / 1000, 5.0) for n in range(20)]
    change(rows, exchanges)
    facts = RunFacts("bench-2", "scpi:tcp://127.0.0.1:1", 40.0, poll_s=1.0)
    with StoreWriter(one.store) as writer:
        run = writer.begin_run(facts, clock=SystemClock(), program="test").run
        writer.write([(run, row) for row in rows])
    one.log.write_text("".join(json.dumps(line) + "\n" for line in exchanges))
    return judge(one).broken


def test_a_trial_in_order_breaks_no_rule(tmp_path: Path) -> None:
    assert trial(tmp_path, lambda rows, exchanges: None) == []


def test_the_answer_to_the_question_before_is_a_wrong_value(tmp_path: Path) -> None:
    def stale(rows: Rows, exchanges: list[dict[str, object]]) -> None:
        rows[15] = Sample(15, 15 * 10**9, 0, 1000, 9.014, 5.0)

    (broken,) = trial(tmp_path, stale)
    assert "seq 15" in broken


def test_a_value_that_was_never_sent_is_wrong(tmp_path: Path) -> None:
    def invented(rows: Rows, exchanges: list[dict[str, object]]) -> None:
        rows[12] = Sample(12, 12 * 10**9, 0, 1000, 0.0, 0.0)

    (broken,) = trial(tmp_path, invented)
    assert "seq 12" in broken


@pytest.mark.parametrize(("between", "count"), [("", 0), ("STAT:QUES:COND?", 10)])
def test_volts_and_amps_asked_one_right_after_the_other_are_one_answer(
    tmp_path: Path, between: str, count: int
) -> None:
    def in_two(rows: Rows, exchanges: list[dict[str, object]]) -> None:
        for whole in exchanges[10:]:
            volts, _, amps = str(whole["answer"]).partition(";")
            exchanges.remove(whole)
            exchanges.append({**whole, "question": "MEAS:VOLT?", "answer": volts})
            if between:
                exchanges.append({**whole, "question": between, "answer": "0"})
            exchanges.append({**whole, "question": "MEAS:CURR?", "answer": amps})

    assert len(trial(tmp_path, in_two)) == count


def test_a_poll_without_a_row_is_a_hole(tmp_path: Path) -> None:
    def lost(rows: Rows, exchanges: list[dict[str, object]]) -> None:
        del rows[7]

    (broken,) = trial(tmp_path, lost)
    assert "are not 0 to" in broken


def test_silence_while_the_supply_has_cut_out_is_found(tmp_path: Path) -> None:
    def cut_out(rows: Rows, exchanges: list[dict[str, object]]) -> None:
        for n in range(10, 20):
            exchanges[n] = exchange(float(n), 9.0 + n / 1000, "cut-out")

    broken = trial(tmp_path, cut_out)
    assert broken
    assert all(one.startswith("no sound") for one in broken)


def test_a_command_is_found(tmp_path: Path) -> None:
    def commanded(rows: Rows, exchanges: list[dict[str, object]]) -> None:
        exchanges.append({**exchange(20.0, 9.0), "commands": ["OUTP ON"], "answer": None})

    (broken,) = trial(tmp_path, commanded)
    assert "not a question" in broken


@pytest.mark.parametrize("seed", [1, 2])
def test_a_track_is_the_same_for_the_same_seed(seed: int) -> None:
    strikes = track(seed, 80.0, 58)
    assert strikes == track(seed, 80.0, 58)
    assert strikes != track(seed + 1, 80.0, 58)
    assert len(strikes) == 58
    assert "at_poll" in faults_file([Strike(4.0, "late")], 5.0)
