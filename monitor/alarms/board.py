"""The alarms of one supply, each in its state; findings change them and give alarm events."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from monitor.alarms.catalogue import BY_NAME
from monitor.alarms.states import Signal, next_state
from monitor.model.alarm import SHELF_NS, AlarmEvent, AlarmKind, AlarmName, Priority, State
from monitor.model.estimate import Forecast
from monitor.model.finding import Finding
from monitor.model.sample import Gap, Sample
from monitor.text import alarm_messages as say

SILENCED = (State.SHELVED, State.OUT_OF_SERVICE)


@dataclass(slots=True)
class Standing:
    """One alarm's place: its state, its occurrence, and since when its condition has differed."""

    kind: AlarmKind
    priority: Priority
    state: State = State.NORMAL
    occurrence: int = 0
    is_on: bool = False
    differs_since_ns: int | None = None
    shelved_until_ns: int | None = None
    action: str = ""
    explains: bool = True


class _Moment(NamedTuple):
    """What every event of one moment carries; a tuple, since one is made with each row."""

    seq: int
    t_ns: int
    forecast: Forecast | None = None
    by: str | None = None


class Board:
    """All alarms of one supply.

    Events come back in the order of the findings, which is the order of cause and consequence.
    """

    def __init__(self) -> None:
        self._alarms = {name: Standing(kind, kind.priority) for name, kind in BY_NAME.items()}
        self._is_shelf_used = False
        self._quiet: Sequence[Finding] | None = None

    def state(self, alarm: str) -> State:
        """Where an alarm stands."""
        return self._alarms[alarm].state

    def standing(self, alarm: AlarmName) -> Standing:
        """An alarm's place: the one that the board goes on to change."""
        return self._alarms[alarm]

    def is_on(self, alarm: str) -> bool:
        """Whether an alarm's condition holds, its delays counted."""
        return self._alarms[alarm].is_on

    def restore(self, events: list[AlarmEvent]) -> None:
        """Stand as the stored events of an interrupted run say, oldest first."""
        for event in events:
            standing = self._alarms.get(event.alarm)
            if standing is None:
                continue
            standing.state, standing.occurrence = event.state, event.occurrence
            standing.priority, standing.action = event.priority, event.action
            standing.shelved_until_ns = event.shelved_until_ns
            self._is_shelf_used, self._quiet = True, None
            if event.state not in SILENCED:
                standing.is_on = event.state in (
                    State.UNACKNOWLEDGED,
                    State.ACKNOWLEDGED,
                    State.SUPPRESSED,
                )

    def take_over(self, run: int, left: AlarmEvent, seq: int, t_ns: int) -> list[AlarmEvent]:
        """Let an alarm stand that nobody acknowledged in an earlier run; the changes of it.

        It is raised and has returned: an acknowledgement ends it, and nothing else. Whether its
        condition holds now is judged anew.
        """
        standing = self._alarms.get(left.alarm)
        if standing is None or standing.state is not State.NORMAL:
            return []
        standing.priority, standing.action = left.priority, left.action
        moment = _Moment(seq, t_ns)
        words = say.left_by(run, left.message)
        raised = self._move(standing, Signal.COMES, moment, words)
        returned = self._move(standing, Signal.GOES_LATCHED, moment, words)
        return [event for event in (raised, returned) if event is not None]

    def update(
        self, row: Sample | Gap, findings: Sequence[Finding], forecast: Forecast
    ) -> list[AlarmEvent]:
        """Take what was found at this row; give the changes that it made."""
        if findings == self._quiet and not self._is_shelf_used:
            # The same as with the last row, and those changed nothing.
            return []
        moment = _Moment(row.seq, row.t_ns, forecast)
        events = self._back_from_the_shelf(moment)
        is_quiet = True
        alarms, suppressed = self._alarms, State.SUPPRESSED
        for finding in findings:
            standing = alarms[finding.alarm]
            if finding.holds is standing.is_on and standing.state is not suppressed:
                standing.differs_since_ns = None
            else:
                is_quiet = False
                events += self._take(finding, moment)
        self._quiet = findings if is_quiet else None
        return events

    def acknowledge(
        self, alarm: str, occurrence: int, by: str, seq: int, t_ns: int
    ) -> AlarmEvent | None:
        """Acknowledge one occurrence; None where it is gone or was acknowledged already."""
        standing = self._meant(alarm, occurrence)
        if standing is None:
            return None
        moment = _Moment(seq, t_ns, by=by)
        return self._move(standing, Signal.ACKNOWLEDGE, moment, say.acknowledged(by))

    def shelve(
        self, alarm: str, occurrence: int, by: str, seq: int, t_ns: int
    ) -> AlarmEvent | None:
        """Put one occurrence on the shelf for `SHELF_NS`; None where that cannot be."""
        standing = self._meant(alarm, occurrence)
        if standing is None or not standing.kind.may_be_shelved:
            return None
        message = say.shelved(SHELF_NS // 60_000_000_000, by)
        event = self._move(standing, Signal.SHELVE, _Moment(seq, t_ns, by=by), message)
        if event is not None:
            standing.shelved_until_ns = event.shelved_until_ns
            self._is_shelf_used = True
        return event

    def unshelve(self, alarm: str, by: str, seq: int, t_ns: int) -> AlarmEvent | None:
        """Take an alarm off the shelf before its time; None where it is not there."""
        standing = self._alarms.get(alarm)
        if standing is None:
            return None
        return self._unshelve(standing, _Moment(seq, t_ns, by=by), say.unshelved(by))

    def take_out_of_service(self, alarm: str, why: str, seq: int, t_ns: int) -> AlarmEvent | None:
        """Judge an alarm no more, for a reason that is told; None where it is out already."""
        return self._move(
            self._alarms[alarm], Signal.TAKE_OUT, _Moment(seq, t_ns), say.out_of_service(why)
        )

    def put_back_into_service(self, alarm: str, seq: int, t_ns: int) -> AlarmEvent | None:
        """Judge an alarm again; None where it is in service."""
        standing = self._alarms[alarm]
        signal = Signal.PUT_BACK_ON if standing.is_on else Signal.PUT_BACK
        return self._move(standing, signal, _Moment(seq, t_ns), say.IN_SERVICE)

    def keep_out_of_service(
        self, reasons: Mapping[str, str], seq: int, t_ns: int
    ) -> list[AlarmEvent]:
        """Have just these alarms out of service, each for its reason; the changes of them."""
        changed = []
        for alarm, standing in self._alarms.items():
            why, is_out = reasons.get(alarm), standing.state is State.OUT_OF_SERVICE
            event = None
            if why is not None and not is_out:
                event = self.take_out_of_service(alarm, why, seq, t_ns)
            elif why is None and is_out:
                event = self.put_back_into_service(alarm, seq, t_ns)
            changed += [] if event is None else [event]
        return changed

    def _meant(self, alarm: str, occurrence: int) -> Standing | None:
        standing = self._alarms.get(alarm)
        return standing if standing is not None and standing.occurrence == occurrence else None

    def _back_from_the_shelf(self, moment: _Moment) -> list[AlarmEvent]:
        over: list[AlarmEvent] = []
        if not self._is_shelf_used:
            return over
        for standing in self._alarms.values():
            until_ns = standing.shelved_until_ns
            if until_ns is not None and until_ns <= moment.t_ns:
                event = self._unshelve(standing, moment, say.SHELF_IS_OVER)
                if event is not None:
                    over.append(event)
        shelved = (standing.shelved_until_ns for standing in self._alarms.values())
        self._is_shelf_used = any(until_ns is not None for until_ns in shelved)
        return over

    def _unshelve(self, standing: Standing, moment: _Moment, message: str) -> AlarmEvent | None:
        standing.shelved_until_ns = None
        signal = Signal.UNSHELVE_ON if standing.is_on else Signal.UNSHELVE
        return self._move(standing, signal, moment, message)

    def _take(self, finding: Finding, moment: _Moment) -> list[AlarmEvent]:
        standing = self._alarms[finding.alarm]
        if finding.holds:
            standing.explains = finding.explains
        signal: Signal | None = None
        if _settled(standing, finding, moment.t_ns):
            standing.is_on = not standing.is_on
            signal = Signal.GOES_LATCHED if standing.kind.latched else Signal.GOES
            if standing.is_on:
                standing.priority = finding.priority or standing.kind.priority
                standing.action = finding.action
                is_explained = standing.state is State.NORMAL and self._is_explained(standing)
                signal = Signal.SUPPRESS if is_explained else Signal.COMES
        elif (
            standing.state is State.SUPPRESSED
            and finding.holds
            and not self._is_explained(standing)
        ):
            signal = Signal.UNSUPPRESS_ON
        event = None if signal is None else self._move(standing, signal, moment, finding.message)
        return [] if event is None else [event]

    def _is_explained(self, standing: Standing) -> bool:
        # A cause that is itself silenced explains nothing to anybody.
        causes = [self._alarms[cause] for cause in standing.kind.suppressed_by]
        return any(
            cause.is_on and cause.explains and cause.state not in SILENCED for cause in causes
        )

    def _move(
        self, standing: Standing, signal: Signal, moment: _Moment, message: str
    ) -> AlarmEvent | None:
        self._quiet = None
        state, change = next_state(standing.state, signal)
        if change is None:
            return None
        if state is State.UNACKNOWLEDGED:
            standing.occurrence += 1
        standing.state = state
        shown = moment.forecast or Forecast()
        if standing.kind.name != AlarmName.TRIP_EXPECTED:
            shown = Forecast()
        return AlarmEvent(
            alarm=standing.kind.name,
            occurrence=standing.occurrence,
            change=change,
            state=state,
            priority=standing.priority,
            seq=moment.seq,
            t_ns=moment.t_ns,
            message=message,
            trip_in_s=shown.trip_in_s,
            trip_in_low_s=shown.trip_in_low_s,
            trip_in_high_s=shown.trip_in_high_s,
            by=moment.by,
            action=standing.action,
        )


def _settled(standing: Standing, finding: Finding, t_ns: int) -> bool:
    """Whether a condition has differed from what is told for as long as its delay asks."""
    if finding.holds is None:
        # Not knowing neither raises nor returns, and interrupts no delay that is running.
        return False
    if finding.holds == standing.is_on:
        standing.differs_since_ns = None
        return False
    if standing.differs_since_ns is None:
        standing.differs_since_ns = t_ns
    delay_s = standing.kind.off_delay_s if standing.is_on else standing.kind.on_delay_s
    if not finding.at_once and t_ns - standing.differs_since_ns < delay_s * 1e9:
        return False
    standing.differs_since_ns = None
    return True
