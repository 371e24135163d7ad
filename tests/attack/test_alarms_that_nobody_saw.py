"""An alarm that nobody acknowledged stands in the next run, however that run comes about."""

from dataclasses import replace
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.base.errors import StoreError
from monitor.model.alarm import AlarmEvent, AlarmName, Change, Priority, State
from monitor.model.request import RequestKind
from monitor.model.run import EndReason, RunFacts
from monitor.model.sample import Sample
from monitor.recorder.left_standing import left_standing
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from monitor.store.writer import StoreWriter
from monitor.text.standing import Situation, StateWord, next_to_acknowledge, standing
from monitor.watch.vigil import Vigil
from tests.monitor.recorder.test_recorder import recording_bench

FACTS = RunFacts("bench-1", "scpi:tcp://127.0.0.1:5025", limit_amps=10.0)
CUT_OUT = AlarmEvent(
    AlarmName.TRIPPED, 1, Change.RAISED, State.UNACKNOWLEDGED, Priority.CRITICAL, 0, 0, "cut out"
)
BACK = replace(CUT_OUT, change=Change.RETURNED, state=State.RETURNED_UNACKNOWLEDGED, message="back")
SEEN = replace(CUT_OUT, change=Change.ACKNOWLEDGED, state=State.ACKNOWLEDGED, message="seen")


def sample(seq: int) -> Sample:
    return Sample(seq, seq * 1_000_000_000, 1_790_000_000_000_000_000, 100, 9.0, 5.0)


def add_run(store: Path, facts: RunFacts, *events: AlarmEvent, rows: int = 1) -> int:
    with StoreWriter(store) as writer:
        run = writer.begin_run(facts, clock=SystemClock(), program="x").run
        writer.write([(run, sample(seq)) for seq in range(rows)])
        writer.write([(run, event) for event in events])
        writer.end_run(run, None, EndReason.STOPPED)
    return run


def left(store: Path, facts: RunFacts) -> list[tuple[int, str]]:
    run = add_run(store, facts, rows=0)
    with open_store(store) as opened:
        row = opened.run(run).row
    return [(run, str(event.alarm)) for run, event in left_standing(store, row)]


SPELLINGS = {
    "the same": FACTS,
    "another limit": replace(FACTS, limit_amps=12.0),
    "another name": replace(FACTS, supply="bench one"),
    "another spelling": replace(FACTS, supply="x", address="scpi:tcp://LOCALHOST:5025"),
    "another address of its name": replace(FACTS, address="scpi:tcp://10.0.0.9:5025"),
    "another poll": replace(FACTS, poll_s=2.0),
}


@pytest.mark.parametrize("facts", SPELLINGS.values(), ids=SPELLINGS)
@pytest.mark.parametrize("events", [(CUT_OUT,), (CUT_OUT, BACK)], ids=["stands", "is back"])
def test_the_next_run_at_the_supply_takes_it_over(
    tmp_path: Path, facts: RunFacts, events: tuple[AlarmEvent, ...]
) -> None:
    store = tmp_path / "runs.db"
    add_run(store, FACTS, *events)
    assert left(store, facts) == [(1, "tripped")]


def test_another_supply_takes_over_nothing(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    add_run(store, FACTS, CUT_OUT)
    assert left(store, replace(FACTS, supply="bench-2", address="scpi:tcp://10.0.0.9:5025")) == []


def test_what_was_acknowledged_is_over(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    add_run(store, FACTS, CUT_OUT, SEEN)
    assert left(store, FACTS) == []


def test_a_run_that_was_killed_before_its_first_row_loses_nothing(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    add_run(store, FACTS, CUT_OUT)
    add_run(store, FACTS, rows=0)
    assert left(store, FACTS) == [(1, "tripped")]


def test_it_stands_until_it_is_acknowledged_and_names_its_first_run() -> None:
    vigil = Vigil(FACTS)
    raised, back = vigil.take_over([(3, CUT_OUT)], 0, 0)
    assert (raised.change, raised.state) == (Change.RAISED, State.UNACKNOWLEDGED)
    assert raised.message == "since run 3, not acknowledged: cut out"
    assert back.state is State.RETURNED_UNACKNOWLEDGED
    assert back.message == raised.message
    again = Vigil(FACTS).take_over([(4, raised)], 0, 0)[0]
    assert again.message == raised.message
    for seq in range(200):
        verdict = vigil.update(sample(seq))
        assert [event for event in verdict.events if event.alarm == "tripped"] == []
    seen = vigil.acknowledge("tripped", back.occurrence, "Ada")
    assert seen is not None
    assert seen.state is State.NORMAL


def test_a_new_run_sounds_stores_and_tells_it_until_somebody_acknowledges_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_run(tmp_path / "runs.db", RunFacts("one", "scpi:/dev/one", limit_amps=8.0), CUT_OUT)
    with recording_bench(tmp_path, monkeypatch, runs=(2, 3)) as bench:
        bench.wait_for("the sound", lambda: Priority.CRITICAL in bench.loud.played)
        events = [event for event in bench.alarms(2) if event.alarm == "tripped"]
        assert [event.change for event in events] == [Change.RAISED, Change.RETURNED]
        standing = bench.look(2, lambda run: run.standing_alarms())
        assert [event.alarm for event in standing] == ["tripped"]
        assert not [event for event in bench.alarms(3) if event.alarm == "tripped"]
        RequestBox(bench.store).ask(2, RequestKind.ACKNOWLEDGE, "tripped#1", "Ada")
        bench.wait_for(
            "the acknowledgement", lambda: not bench.look(2, lambda run: run.standing_alarms())
        )


def test_an_earlier_run_that_cannot_be_read_keeps_no_run_from_beginning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from monitor.recorder import recorder

    def breaks(store: Path, run: object) -> None:
        raise StoreError("damaged")

    monkeypatch.setattr(recorder, "left_standing", breaks)
    with recording_bench(tmp_path, monkeypatch) as bench:
        bench.goes_on(2)
        assert "alarms of earlier runs cannot be looked up: damaged" in bench.complaints


def test_the_screen_asks_for_it_and_does_not_take_it_for_the_state_of_the_supply() -> None:
    *_, left = Vigil(FACTS).take_over([(3, CUT_OUT)], 0, 0)
    assert next_to_acknowledge((left,)) == left
    shown = standing(Situation(FACTS, sample(5), 0.1, 0.1, None, (left,)))
    assert shown.word is not StateWord.CUT_OUT
