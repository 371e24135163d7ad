"""The tag of the job's step: that of the card in force at a point's own time, sent again or not."""

from pathlib import Path

import pytest

from monitor.model.card import JobCard
from monitor.model.event import Mark
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from tests.clock import HandClock
from tests.monitor.forward.bench import MemorySink, a_forwarder, steps, time_of
from tests.monitor.store.bench import (
    BEGAN_UTC_NS,
    POLL_NS,
    a_gap,
    a_run,
    a_sample,
    a_store,
    an_estimate,
    an_event,
)


@pytest.fixture(name="path")
def a_path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


def put(path: Path, step: str, at_seq: float) -> None:
    clock = HandClock(utc_now_ns=BEGAN_UTC_NS + round(at_seq * POLL_NS))
    JobBox(path, clock).put_card(1, JobCard("north tank", step))


def step_of(line: str) -> str:
    """The tag of a line; "" where it has none."""
    tags = line.replace("\\ ", "_").partition(" ")[0].split(",")[1:]
    return dict(tag.split("=") for tag in tags).get("step", "")


def record(path: Path, first: int, end: int) -> None:
    with a_store(path) as writer:
        if not first:
            a_run(writer)
        for seq in range(first, end):
            row = a_gap(seq) if seq == 7 else a_sample(seq)
            writer.write([(1, row), (1, an_estimate(seq))])


def sent(path: Path) -> list[str]:
    """All lines, by a forwarder that begins at the run's beginning."""
    sink, clock = MemorySink(), HandClock()
    forwarder, _ = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    forwarder.close()
    return sink.taken


def test_each_point_has_the_step_of_its_own_time(path: Path) -> None:
    record(path, 0, 10)
    put(path, "clean", 2)
    put(path, "strip", 5.5)
    with a_store(path) as writer:
        writer.write([(1, an_event(3)), (1, an_event(9, alarm="tripped"))])
        writer.write([(1, Mark(1, 4 * POLL_NS, BEGAN_UTC_NS + 4 * POLL_NS))])
    lines = sent(path)
    for line in lines:
        seq = (time_of(line) - BEGAN_UTC_NS) / POLL_NS
        assert step_of(line) == ("" if seq < 2 else "clean" if seq < 5.5 else "strip"), line
    assert {line.partition(",")[0] for line in lines} == {
        "bath_reading", "bath_estimate", "bath_alarm", "bath_mark"
    }  # fmt: skip


def test_a_card_that_is_changed_later_changes_no_point_that_was_sent(path: Path) -> None:
    record(path, 0, 10)
    put(path, "clean", 4)
    sink, clock = MemorySink(), HandClock()
    forwarder, _ = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    forwarder.close()
    assert len(sink.taken) == 20
    # In mid-run, then after the run; and each time the last seconds are sent once more.
    for at_seq, end in ((9.5, 20), (25, 20)):
        put(path, "strip", at_seq)
        if end > len({time_of(line) for line in sink.taken}):
            record(path, 10, end)
        forwarder, _ = a_forwarder(path, sink, clock)
        steps(forwarder, clock)
        forwarder.close()
    assert len(sink.taken) > 40, "what was taken a short while ago was sent again"
    assert len(set(sink.taken)) == 40, "and to the same series"
    assert {step_of(line) for line in sink.taken} == {"", "clean", "strip"}


def test_a_corrected_card_counts_from_its_own_time(path: Path) -> None:
    record(path, 0, 5)
    for step, at_seq in (("clean", 1), ("strip", 3), ("", 4)):
        put(path, step, at_seq)
    assert [step_of(line) for line in sent(path) if line.startswith("bath_reading")] == [
        "", "clean", "clean", "strip", ""
    ]  # fmt: skip


def test_a_clock_that_was_set_back_leaves_the_newer_card_in_force(path: Path) -> None:
    record(path, 0, 5)
    put(path, "clean", 4)
    put(path, "strip", 2)
    with open_store(path) as store:
        assert store.run(1).steps() == [(BEGAN_UTC_NS + 2 * POLL_NS, "strip")]
