"""A run that outlived its recorder goes on, and the hole is in it for all to see."""

from pathlib import Path

import pytest

from monitor.base.errors import NoSuchRun, StoreError
from monitor.store import writer as writer_module
from monitor.store.reader import open_store
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, POLL_NS, a_gap, a_run, a_sample, a_store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


def test_within_one_boot_the_time_goes_on_by_the_monotonic_clock(path: Path) -> None:
    clock = HandClock()
    with a_store(path) as writer:
        run = a_run(writer, clock)
        writer.write([(run, a_sample(0)), (run, a_sample(1))])
    clock.pass_s(60)
    # Somebody set the wall clock in the meantime.
    clock.utc_now_ns -= 3_600_000_000_000
    with a_store(path) as writer:
        segment = writer.resume_run(run, clock=clock)
        assert writer.segment(run) == segment
    assert (segment.segment, segment.began_seq) == (1, 2)
    assert segment.began_t_ns == 60_000_000_000
    assert segment.began_monotonic_ns == clock.now_ns
    assert segment.cause == "recorder stopped"


@pytest.mark.parametrize(("boot", "later_boot"), [("one", "another"), ("unknown", "unknown")])
def test_across_boots_only_the_wall_clock_knows(
    path: Path, monkeypatch: pytest.MonkeyPatch, boot: str, later_boot: str
) -> None:
    clock = HandClock()
    monkeypatch.setattr(writer_module, "boot_id", lambda: boot)
    with a_store(path) as writer:
        run = a_run(writer, clock)
        writer.write([(run, a_sample(0)), (run, a_sample(5))])
    monkeypatch.setattr(writer_module, "boot_id", lambda: later_boot)
    # The other boot's monotonic clock says something that could be true.
    after = HandClock(clock.now_ns + 7_000_000_000, BEGAN_UTC_NS + 90_000_000_000)
    with a_store(path) as writer:
        segment = writer.resume_run(run, clock=after)
    assert segment.began_t_ns == 90_000_000_000


def test_time_never_goes_back_even_if_the_wall_clock_forgot_the_year(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(5))])
    monkeypatch.setattr(writer_module, "boot_id", lambda: "another")
    with a_store(path) as writer:
        segment = writer.resume_run(run, clock=HandClock(now_ns=1, utc_now_ns=0))
    assert segment.began_t_ns == 5 * POLL_NS + 1


def test_the_hole_is_a_gap_until_the_first_answer(path: Path) -> None:
    clock = HandClock()
    with a_store(path) as writer:
        run = a_run(writer, clock)
        writer.write([(run, a_sample(0)), (run, a_sample(1))])
    with a_store(path) as writer:
        clock.pass_s(60)
        writer.resume_run(run, clock=clock, cause="the machine was off")
        writer.write([(run, a_gap(2)), (run, a_sample(300))])
    with open_store(path) as store:
        (gap,) = store.run(run).gaps()
    assert (gap.began_seq, gap.began_t_ns, gap.ended_t_ns) == (2, POLL_NS, 300 * POLL_NS)
    assert (gap.reason, gap.polls) == ("the machine was off", 1)


def test_a_gap_that_lasted_when_the_recorder_died_ends_there(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0)), (run, a_gap(1)), (run, a_gap(2))])
    with a_store(path) as writer:
        writer.resume_run(run, clock=HandClock())
    with open_store(path) as store:
        before, stopped = store.run(run).gaps()
    assert (before.reason, before.ended_t_ns) == ("no answer", 2 * POLL_NS)
    assert (stopped.reason, stopped.began_seq, stopped.ended_t_ns) == ("recorder stopped", 3, None)


def test_two_resumes_without_a_row_between_are_one_hole(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
    for _ in range(2):
        with a_store(path) as writer:
            writer.resume_run(run, clock=HandClock())
    with open_store(path) as store:
        assert len(store.run(run).gaps()) == 1
        assert [segment.segment for segment in store.run(run).segments()] == [0, 1, 2]


def test_an_ended_run_is_not_taken_up_again(path: Path) -> None:
    with a_store(path) as writer:
        run = a_run(writer)
        writer.end_run(run, 0, "done")
        with pytest.raises(StoreError, match="has ended; begin a new run"):
            writer.resume_run(run, clock=HandClock())


def test_a_run_that_is_not_there_is_not_taken_up(path: Path) -> None:
    with a_store(path) as writer, pytest.raises(NoSuchRun, match="no run 4"):
        writer.resume_run(4, clock=HandClock())
