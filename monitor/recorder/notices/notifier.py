"""Delivers a notice of each urgent alarm: one thread a channel, so that none waits for another.

1. A raise of an urgent alarm makes one notice for each channel.
2. A try has a deadline; a failed one is made again after growing waits, a bounded number of times.
3. The last failure gives the notice up and raises `notice-failed`; the next success returns it.
4. `notice-failed` itself is never sent: it could not arrive.
5. Nothing waits for a notice: not a poll, not an alarm, not the end of the run; nor for the disk
   on which notices are kept.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass

from drivers.base.clock import Clock
from monitor.model.alarm import RANK, AlarmEvent, AlarmName, Change, Priority, State
from monitor.model.event import Status
from monitor.model.finding import Finding
from monitor.model.run import RunRow
from monitor.recorder.notices.channel import Answer, Channel
from monitor.recorder.notices.delivery import deliver
from monitor.recorder.notices.notice import Notice, notice_of
from monitor.recorder.notices.outbox import Outbox
from monitor.text import badges

FIRST_WAIT_S = 2.0
"""Seconds before the second try; each further wait is twice as long."""

Delivers = Callable[[Channel, Notice, float], Answer]


@dataclass(frozen=True, slots=True)
class NoticePlan:
    """What the settings say of notices.

    Parameters
    ----------
    channels
        Where they go.
    from_priority
        The least urgent alarm that is told.
    within_s, tries
        Longest time for one try, and how many there are.
    """

    channels: tuple[Channel, ...]
    from_priority: Priority = Priority.HIGH
    within_s: float = 10.0
    tries: int = 4


class Notifier:
    """Delivers the notices of one recorder.

    Parameters
    ----------
    plan
        Channels and patience.
    outbox
        Where notices wait.
    real
        The machine's clock.
    report
        Called, in a channel's thread, with whether `notice-failed` holds.
    note_status
        Called, in a channel's thread, with how the channel stands.
    send
        Delivers one notice once.
    """

    def __init__(
        self,
        plan: NoticePlan,
        outbox: Outbox,
        real: Clock,
        report: Callable[[Finding], None],
        note_status: Callable[[Status], None],
        send: Delivers = deliver,
    ) -> None:
        self._plan = plan
        self._outbox = outbox
        self._real = real
        self._report = report
        self._note_status = note_status
        self._send = send
        self._stop = threading.Event()
        self._lock = threading.Lock()
        self._failing: dict[str, str] = {}
        self._last: dict[str, tuple[str | None, str | None]] = {}
        self._wakes = {channel.name: threading.Event() for channel in plan.channels}
        self._threads = [
            threading.Thread(
                target=self._work, args=(channel,), name=f"notices {channel.name}", daemon=True
            )
            for channel in plan.channels
        ]
        self._keeper = threading.Thread(target=self._keep, name="notices' file", daemon=True)

    def start(self) -> None:
        """Begin to deliver; what a killed recorder left waiting goes first."""
        for channel in self._plan.channels:
            self._tell(channel.name, None)
        for thread in (*self._threads, self._keeper):
            thread.start()

    def take(self, run: RunRow, event: AlarmEvent) -> None:
        """Take one change of an alarm; never waits for a network."""
        is_urgent = RANK[event.priority] <= RANK[self._plan.from_priority]
        begins = event.state is State.UNACKNOWLEDGED and event.change in (
            Change.RAISED,
            Change.UNSHELVED,
        )
        if not (is_urgent and begins) or event.alarm == AlarmName.NOTICE_FAILED:
            return
        notice = notice_of(run, event)
        for channel in self._plan.channels:
            self._outbox.put(channel.name, notice)
            self._wakes[channel.name].set()

    def close(self, within_s: float = 2.0) -> None:
        """End; what still waits stays in the outbox for the next recorder."""
        self._stop.set()
        for wake in self._wakes.values():
            wake.set()
        self._outbox.has_news.set()
        for thread in (*self._threads, self._keeper):
            thread.join(timeout=within_s)

    def _keep(self) -> None:
        while not self._stop.is_set():
            self._outbox.has_news.wait()
            self._outbox.keep()

    def _work(self, channel: Channel) -> None:
        wake = self._wakes[channel.name]
        while not self._stop.is_set():
            waiting = self._outbox.first(channel.name)
            if waiting is None:
                wake.wait()
                wake.clear()
                continue
            waiting = self._outbox.tried(waiting)
            answer = self._send(channel, waiting.notice, self._plan.within_s)
            if answer.is_ok or waiting.tries >= self._plan.tries:
                self._outbox.done(waiting)
            self._tell(channel.name, answer)
            self._judge(channel.name, answer, waiting.tries >= self._plan.tries)
            if not answer.is_ok and waiting.tries < self._plan.tries:
                self._real.wait(FIRST_WAIT_S * 2 ** (waiting.tries - 1), self._stop)

    def _judge(self, name: str, answer: Answer, was_last: bool) -> None:
        with self._lock:
            if answer.is_ok:
                self._failing.pop(name, None)
            elif was_last:
                self._failing[name] = f"notices by {name} fail: {answer.text}"
            else:
                return
            words = "; ".join(self._failing.values())
        self._report(
            Finding(AlarmName.NOTICE_FAILED, bool(words), words or "notices are delivered again")
        )

    def _tell(self, name: str, answer: Answer | None) -> None:
        """Keep the channel's last success and last failure where screens look."""
        success, failure = self._last.get(name, (None, None))
        utc_ns = self._real.utc_ns()
        if answer is not None and answer.is_ok:
            success = answer.text
        elif answer is not None:
            failure = answer.text
        self._last[name] = (success, failure)
        parts = [f"{self._outbox.count(name)} waiting"]
        parts += [] if success is None else [f"last delivered: {success}"]
        parts += [] if failure is None else [f"last failure: {failure}"]
        is_well = None if answer is None else answer.is_ok
        text = "; ".join(parts)
        if not is_well:
            text = f"{badges.notices(name, is_well)}: {text}"
        self._note_status(Status(f"notices {name}", utc_ns, text, is_well))
