"""All that runs beside the polling: notices, heartbeat, upkeep, links, no sleep, the copy.

All of it has threads and processes of its own; none of it can delay a poll or an alarm.
"""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from drivers.base.clock import Clock
from monitor.forward.watch import LOOK_EVERY_S as FORWARD_EVERY_S
from monitor.forward.watch import Forwarded, ForwardWatch
from monitor.model.alarm import AlarmEvent
from monitor.model.event import Status
from monitor.model.finding import Finding
from monitor.model.run import RunRow
from monitor.recorder.heartbeat import Heartbeat, HeartbeatPlan
from monitor.recorder.link_watch import LOOK_EVERY_S as LINKS_EVERY_S
from monitor.recorder.link_watch import LinkWatch
from monitor.recorder.notices.notifier import NoticePlan, Notifier
from monitor.recorder.notices.outbox import Outbox, outbox_path
from monitor.recorder.repeating import Repeating
from monitor.recorder.scribe import Scribe
from monitor.recorder.upkeep import LOOK_EVERY_S as UPKEEP_EVERY_S
from monitor.recorder.upkeep import ServiceLine, Upkeep
from monitor.recorder.wakefulness import Wakefulness, command_line
from monitor.recorder.watched import Watched


@dataclass(frozen=True, slots=True)
class Outside:
    """The receivers of notices, heartbeat and readings; each may be missing."""

    notices: NoticePlan = field(default_factory=lambda: NoticePlan(()))
    heartbeat: HeartbeatPlan = field(default_factory=HeartbeatPlan)
    forwarded: Forwarded | None = None


class Surroundings:
    """The recorder's services beside the polling; they begin and end with its runs.

    Parameters
    ----------
    report, note_status
        Where findings and states of the recorder's own parts go; called from any thread.
    note_apart
        Where a state of one run's own goes.
    """

    def __init__(
        self,
        outside: Outside,
        store: Path,
        watched: Mapping[int, Watched],
        scribe: Scribe,
        real: Clock,
        report: Callable[[Finding], None],
        note_status: Callable[[Status], None],
        note_apart: Callable[[int, Status], None],
    ) -> None:
        names = [channel.name for channel in outside.notices.channels]
        outbox = Outbox(outbox_path(store), names)
        self._notifier = Notifier(outside.notices, outbox, real, report, note_status)
        self._awake = Wakefulness(real, command_line())
        self._service = ServiceLine()
        self._note_status = note_status
        self._watched = watched
        self._links = LinkWatch(watched, real, note_apart)
        upkeep = Upkeep(
            store, watched, scribe, real, self._service, report, note_status=note_status
        )
        self._tasks = [
            Repeating("upkeep", UPKEEP_EVERY_S, upkeep.look, real, at_once=True),
            Repeating("link watch", LINKS_EVERY_S, self._links.look, real),
        ]
        beat = outside.heartbeat
        if beat.is_wanted:
            heartbeat = Heartbeat(beat, real, upkeep.is_fresh, note_status)
            self._tasks.append(
                Repeating("heartbeat", beat.every_s, heartbeat.beat, real, end_within_s=0.0)
            )
        if outside.forwarded is not None:
            copy = ForwardWatch(store, outside.forwarded, self._readings_per_s, real, report)
            task = copy.look_and_report
            self._tasks.append(Repeating("forward watch", FORWARD_EVERY_S, task, real))

    def take(self, run: RunRow, event: AlarmEvent) -> None:
        """Tell of one change of an alarm; never waits."""
        self._notifier.take(run, event)

    def start(self) -> None:
        """Begin; never waits."""
        self._notifier.start()
        self._service.ready()
        for task in self._tasks:
            task.start()
        ask = threading.Thread(target=self._stay_awake, name="wakefulness", daemon=True)
        ask.start()

    def close(self) -> None:
        """End; the polling has ended."""
        self._service.stopping()
        for task in self._tasks:
            task.close()
        self._links.look_last()
        self._notifier.close()
        self._awake.end()

    def _stay_awake(self) -> None:
        self._note_status(self._awake.begin())

    def _readings_per_s(self) -> float:
        """Polls in a second of the machine's time, of all runs that go on."""
        going_on = [
            watched.row.facts for watched in self._watched.values() if watched.ended_why is None
        ]
        return sum(facts.clock_speed / facts.poll_s for facts in going_on)
