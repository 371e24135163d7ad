"""Tasks beside the polling: each in its own time, none held up by another."""

import threading

import pytest

from drivers.base.clock import SystemClock
from monitor.model.event import Status
from monitor.model.finding import Finding
from monitor.recorder.mishap import Mishaps
from monitor.recorder.repeating import Repeating

SOON_S = 10.0


class Rounds:
    """A task that counts how often it was done."""

    def __init__(self, wanted: int) -> None:
        self.count = 0
        self.wanted = wanted
        self.are_enough = threading.Event()

    def __call__(self) -> None:
        self.count += 1
        if self.count == self.wanted:
            self.are_enough.set()


def test_a_task_comes_again_until_it_is_closed() -> None:
    rounds = Rounds(3)
    repeating = Repeating("upkeep", 0.001, rounds, SystemClock())
    repeating.start()
    assert rounds.are_enough.wait(SOON_S)
    repeating.close()
    count = rounds.count
    assert not repeating.is_going_on
    assert rounds.count == count


@pytest.mark.parametrize("at_once", [True, False])
def test_only_a_task_that_is_wanted_at_once_comes_before_its_time(at_once: bool) -> None:
    rounds = Rounds(1)
    repeating = Repeating("upkeep", 3600.0, rounds, SystemClock(), at_once=at_once)
    repeating.start()
    if at_once:
        assert rounds.are_enough.wait(SOON_S)
    repeating.close()
    assert rounds.count == at_once


def test_a_task_that_hangs_holds_neither_another_nor_the_end_up() -> None:
    has_begun, may_end = threading.Event(), threading.Event()

    def hang() -> None:
        has_begun.set()
        may_end.wait(60.0)

    hanging = Repeating("heartbeat", 1.0, hang, SystemClock(), at_once=True, end_within_s=0.0)
    rounds = Rounds(3)
    other = Repeating("upkeep", 0.001, rounds, SystemClock())
    for repeating in (hanging, other):
        repeating.start()
    assert has_begun.wait(SOON_S)
    assert rounds.are_enough.wait(SOON_S)
    hanging.close()
    assert hanging.is_going_on
    other.close()
    may_end.set()


# The thread is meant to die; pytest would warn of it.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_bug_in_a_task_raises_part_failed_by_its_name() -> None:
    findings: list[Finding] = []
    statuses: list[Status] = []
    has_told = threading.Event()

    def report(finding: Finding) -> None:
        findings.append(finding)
        has_told.set()

    def break_down() -> None:
        raise ValueError("a bug")

    with Mishaps(SystemClock(), report, statuses.append).watches_threads():
        repeating = Repeating("link watch", 1.0, break_down, SystemClock(), at_once=True)
        repeating.start()
        assert has_told.wait(SOON_S)
        repeating.close()  # else the thread's end is told while another test runs
    assert (findings[0].alarm, findings[0].holds) == ("part-failed", True)
    assert findings[0].message == "link watch failed (ValueError: a bug)"
    assert statuses[0].text.startswith("LINK WATCH FAILED: ValueError: a bug")
