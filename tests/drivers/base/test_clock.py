"""Clocks: the sped one agrees with the machine's at its anchor, and runs ahead from there."""

import threading
import time

import pytest

from drivers.base.clock import SpedClock, SystemClock, boot_id, sped_clock_from_now


def test_a_sped_clock_runs_ahead_of_its_anchor(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = SpedClock(30.0, anchor_monotonic_ns=1_000, anchor_utc_ns=5_000)
    monkeypatch.setattr(time, "monotonic_ns", lambda: 1_000)
    assert (clock.monotonic_ns(), clock.utc_ns()) == (1_000, 5_000)
    monkeypatch.setattr(time, "monotonic_ns", lambda: 1_100)
    assert (clock.monotonic_ns(), clock.utc_ns()) == (4_000, 8_000)


def test_two_processes_with_one_anchor_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    first = sped_clock_from_now(10.0)
    second = SpedClock(10.0, first.anchor_monotonic_ns, first.anchor_utc_ns)
    monkeypatch.setattr(time, "monotonic_ns", lambda: first.anchor_monotonic_ns + 7)
    assert first.monotonic_ns() == second.monotonic_ns() == first.anchor_monotonic_ns + 70


@pytest.mark.parametrize("clock", [SystemClock(), sped_clock_from_now(10.0)])
def test_an_event_ends_a_wait(clock: SystemClock | SpedClock) -> None:
    event = threading.Event()
    assert not clock.wait(0.0)
    assert not clock.wait(-1.0, event)
    event.set()
    assert clock.wait(60.0, event)


def test_monotonic_time_never_steps_back() -> None:
    clock = SystemClock()
    times = [clock.monotonic_ns() for _ in range(100)]
    assert times == sorted(times)
    assert abs(clock.utc_ns() - time.time_ns()) < 60_000_000_000


def test_a_boot_has_one_name() -> None:
    assert boot_id() == boot_id() != ""
