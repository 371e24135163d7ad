"""One supply of one run: a driver polled at due times, each answered or not, in order.

What a poll brings goes to a `Sink`: the row, what it means, and the run that it belongs to.
"""

import math
import threading
from collections.abc import Callable
from dataclasses import replace
from queue import Empty, SimpleQueue
from random import Random

from drivers.base.clock import Clock
from drivers.driver import Driver
from drivers.errors import DoNotRepeat, DriverError, Reopen, WrongSupply
from drivers.reading import Identity, Reading
from monitor.model.event import NEXT_TRY, Status
from monitor.model.sample import Gap, GapReason, Quality, Sample
from monitor.recorder.mishap import traceback_of
from monitor.recorder.pause import PAUSE_S, PauseWatch
from monitor.recorder.schedule import Due, Schedule
from monitor.watch.vigil import Verdict, Vigil

Sink = Callable[[int, Sample | Gap, Verdict], None]

FIRST_RETRY_S = 0.5
LAST_RETRY_S = 10.0
"""Waits between tries to open a lost link double from the first to the last, and never end."""
SPREAD = 0.2
"""Each wait is shorter by up to this share, or all that a gateway lost would come back at once."""


MOST_LIMITS = 10.0
MOST_VOLTS, MOST_CELSIUS = 1_000.0, 500.0
"""A small supply gives tens of volts, a bath boils near 100 C (common practice, no source)."""
CANNOT_BE = "the supply gave a value that cannot be"


class Station:
    """One supply being watched.

    Parameters
    ----------
    run
        Number of the run in the store.
    driver
        How to ask the supply; opened and closed here.
    vigil, schedule
        What the rows mean, and when they are due.
    clock
        The run's clock; may be sped up.
    real
        The machine's clock, for waits between tries to open the link.
    sink
        Takes each row with its meaning.
    must_be
        The words by which the run's supply names itself; None takes whoever answers first.
    opened
        Who answered when the link was opened already; None where it still must be.
    tell_wait
        Takes the seconds of real time until a lost link is tried again.
    limit_amps
        The run's limit: readings of ten times as much are suspect.
    """

    def __init__(
        self,
        run: int,
        driver: Driver,
        vigil: Vigil,
        schedule: Schedule,
        began_ns: int,
        clock: Clock,
        real: Clock,
        sink: Sink,
        must_be: str | None = None,
        opened: Identity | None = None,
        tell_wait: Callable[[float], None] = lambda wait_s: None,
        limit_amps: float = math.inf,
    ) -> None:
        self.run = run
        self.schedule = schedule
        self.vigil = vigil
        self._driver = driver
        self._began_ns = began_ns
        self._clock = clock
        self._real = real
        self._sink = sink
        self._must_be = must_be
        self._tell_wait = tell_wait
        self._most_amps = MOST_LIMITS * limit_amps
        self._is_open = opened is not None and must_be in (None, opened.text)
        if self._is_open and opened is not None:
            self._must_be = opened.text
        self._retry_at_ns: int | None = None
        self._retry_s = FIRST_RETRY_S
        self._chance = Random(run)
        self._failure: DriverError | None = None
        self._paused_s: float | None = None
        # A poll that takes longer than the driver can was stopped in the middle.
        self._longest_read_s = driver.deadline_s + PAUSE_S
        self._trace: str | None = None
        self._last_t_ns = -1
        self._asked: SimpleQueue[Callable[[Vigil], None]] = SimpleQueue()

    @property
    def driver(self) -> Driver:
        """How the supply is asked; to be looked at between two polls."""
        return self._driver

    def ask(self, action: Callable[[Vigil], None]) -> None:
        """Have something done to the vigil between two polls; callable from any thread."""
        self._asked.put(action)

    def note_pause(self, seconds: float) -> None:
        """Be told that the machine stood still: the link is opened anew, the gap says why."""
        self._paused_s = max(seconds, self._paused_s or 0.0)

    def poll(self) -> None:
        """Write down what was missed, and poll for the place that is due now.

        A bug of ours on the way ends this supply's watch, not the others': it is an alarm, with its
        traceback in the run.
        """
        self._do_what_was_asked()
        missed, due = self.schedule.take(self._clock.monotonic_ns())
        reason, detail = GapReason.NOT_ASKED, "the previous poll or the machine was late"
        paused_s, self._paused_s = self._paused_s, None
        if paused_s is not None:
            reason, detail = (
                GapReason.HOST_PAUSED,
                f"the machine or the recorder stood still for {paused_s:.0f} s",
            )
            self._driver.close()
            self._is_open, self._retry_at_ns = False, None
        for place in missed:
            self._guard(place, lambda place: self._gap(place, reason, detail))
        if paused_s is not None:
            self._guard(due, lambda due: self._gap(due, reason, detail))
        else:
            self._guard(due, self._poll_for)

    def _guard(self, place: Due, look: Callable[[Due], Sample | Gap]) -> None:
        if self._trace is not None:
            self._tell(self._gap(place, GapReason.PROGRAM_FAILED, self._trace))
            return
        try:
            self._tell(look(place))
        except Exception as bug:
            self._fail(bug)
            self._tell(self._gap(place, GapReason.PROGRAM_FAILED, traceback_of(bug)))

    def _fail(self, bug: Exception) -> None:
        self._trace = traceback_of(bug)
        self.vigil.fail(f"the watch failed: {type(bug).__name__}: {bug}")
        self._is_open = False
        self._driver.close()

    def close(self) -> None:
        """Give the link back."""
        self._do_what_was_asked()
        self._driver.close()
        self._is_open = False

    def _do_what_was_asked(self) -> None:
        while True:
            try:
                action = self._asked.get_nowait()
            except Empty:
                return
            try:
                action(self.vigil)
            except Exception as bug:
                # No request may end a supply's polling.
                self._fail(bug)

    def _tell(self, row: Sample | Gap) -> None:
        if row.t_ns <= self._last_t_ns:
            # A slow answer was stamped later than the places that it made us miss were due.
            row = replace(row, t_ns=self._last_t_ns + 1)
        self._last_t_ns = row.t_ns
        self._sink(self.run, row, self.vigil.update(row))

    def _poll_for(self, due: Due) -> Sample | Gap:
        if not self._is_open:
            failure = self._try_to_open()
            if failure is not None:
                return self._gap(due, failure.reason, str(failure))
        asked_ns, began_ns = self._clock.monotonic_ns(), self._real.monotonic_ns()
        try:
            reading = self._driver.read()
        except (Reopen, DoNotRepeat) as failure:
            self._lose(failure)
            return self._gap(due, failure.reason, str(failure))
        except DriverError as failure:
            took_s = (self._real.monotonic_ns() - began_ns) / 1e9
            if took_s > self._longest_read_s:
                self.note_pause(took_s)
            return self._gap(due, failure.reason, str(failure))
        ended_ns, answered_ns = self._real.monotonic_ns(), self._clock.monotonic_ns()
        took_s = (ended_ns - began_ns) / 1e9
        if took_s > self._longest_read_s:
            self.note_pause(took_s)
            return self._gap(due, GapReason.HOST_PAUSED, f"the answer was {took_s:.0f} s under way")
        if reading.span_ns is not None and ended_ns > began_ns:
            # A poll may begin with the way back into step: the values are from its end.
            pace = (answered_ns - asked_ns) / (ended_ns - began_ns)
            asked_ns, answered_ns = (
                asked_ns + round(pace * (min(max(t_ns, began_ns), ended_ns) - began_ns))
                for t_ns in reading.span_ns
            )
        return self._sample(due, reading, asked_ns, answered_ns)

    def _try_to_open(self) -> DriverError | None:
        now_ns = self._real.monotonic_ns()
        if self._retry_at_ns is not None and now_ns < self._retry_at_ns:
            return self._failure
        try:
            identity = self._driver.open()
            self._check(identity)
        except DriverError as failure:
            self._lose(failure)
            return failure
        self._is_open, self._failure, self._retry_at_ns = True, None, None
        self._retry_s = FIRST_RETRY_S
        return None

    def _check(self, identity: Identity) -> None:
        if self._must_be is None:
            self._must_be = identity.text
        elif identity.text != self._must_be:
            raise WrongSupply(
                f"{identity.text!r} answers, but this run began with {self._must_be!r}: "
                "connect the first one again, or end this run and begin another"
            )

    def _lose(self, failure: DriverError) -> None:
        self._driver.close()
        self._is_open, self._failure = False, failure
        wait_s = self._retry_s * (1.0 - SPREAD * self._chance.random())
        self._retry_at_ns = self._real.monotonic_ns() + round(wait_s * 1e9)
        self._retry_s = min(self._retry_s * 2, LAST_RETRY_S)
        self._tell_wait(wait_s)

    def _gap(self, due: Due, reason: str, detail: str) -> Gap:
        return Gap(due.seq, due.t_ns, self._clock.utc_ns(), reason, detail)

    def _sample(self, due: Due, reading: Reading, asked_ns: int, answered_ns: int) -> Sample:
        quality, reason = Quality.GOOD, None
        if reading.doubt is not None:
            quality, reason = Quality.SUSPECT, reading.doubt
        elif reading.volts is None or reading.amps is None:
            quality, reason = Quality.SUSPECT, "the supply gave no value"
        elif not (-self._most_amps <= reading.amps <= self._most_amps and _can_be(reading)):
            quality, reason = Quality.SUSPECT, CANNOT_BE
        return Sample(
            seq=due.seq,
            t_ns=(asked_ns + answered_ns) // 2 - self._began_ns,
            utc_ns=self._clock.utc_ns()
            - self._clock.monotonic_ns()
            + (asked_ns + answered_ns) // 2,
            latency_us=(answered_ns - asked_ns) // 1000,
            volts=reading.volts,
            amps=reading.amps,
            celsius=reading.celsius,
            mode=reading.mode,
            quality=quality,
            reason=reason,
        )


def _can_be(reading: Reading) -> bool:
    volts, celsius = reading.volts, reading.celsius
    return (volts is None or abs(volts) <= MOST_VOLTS) and (
        celsius is None or abs(celsius) <= MOST_CELSIUS
    )


def keep_polling(
    stations: list[Station], clock: Clock, stop: threading.Event, pauses: PauseWatch
) -> None:
    """Poll the stations that share one port, each at its due times, until told to stop.

    The body of a port's thread. Links are given back at the end.
    """
    try:
        while not stop.is_set():
            station = min(stations, key=lambda station: station.schedule.next_ns)
            wait_ns = station.schedule.next_ns - clock.monotonic_ns()
            if wait_ns > 0:
                if pauses.wait(wait_ns / 1e9, stop):
                    return
                paused_s = pauses.paused_s(station.schedule.poll_s)
                if paused_s is not None:
                    for neighbour in stations:
                        neighbour.note_pause(paused_s)
            station.poll()
    finally:
        for station in stations:
            station.close()


def next_try_noter(
    note: Callable[[int, Status], None], run: int, clock: Clock, clock_speed: float
) -> Callable[[float], None]:
    """What takes the wait, seconds of real time, and keeps the try's time by the run's clock.

    Parameters
    ----------
    note
        Takes a run's status; called from the polling thread.
    clock, clock_speed
        The run's clock, and how much faster than the machine's it goes.
    """

    def tell(wait_s: float) -> None:
        due_ns = clock.utc_ns() + round(wait_s * clock_speed * 1e9)
        note(run, Status(NEXT_TRY, due_ns, "the link is tried again at this time", True))

    return tell
