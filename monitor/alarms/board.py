"""Findings in, alarm events out: the alarms of one supply, each at its place in the state table."""

from dataclasses import dataclass

from monitor.alarms.alarm import AlarmEvent, AlarmKind, Change, State
from monitor.alarms.catalogue import BY_NAME, TRIP_EXPECTED
from monitor.alarms.conditions import Finding
from monitor.alarms.states import Signal, next_state
from monitor.estimating.estimate import Forecast
from monitor.sample import Gap, Sample


@dataclass(slots=True)
class _Standing:
    """One alarm's place: its state, its occurrence, and since when its condition has differed."""

    kind: AlarmKind
    state: State = State.NORMAL
    occurrence: int = 0
    is_on: bool = False
    differs_since_ns: int | None = None


class Board:
    """All alarms of one supply.

    Events come back in the order of the findings, which is the order of cause and consequence.
    """

    def __init__(self) -> None:
        self._alarms = {name: _Standing(kind) for name, kind in BY_NAME.items()}

    def state(self, alarm: str) -> State:
        """Where an alarm stands."""
        return self._alarms[alarm].state

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
            standing.is_on = event.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)

    def update(
        self, row: Sample | Gap, findings: tuple[Finding, ...], forecast: Forecast
    ) -> list[AlarmEvent]:
        """Take what was found at this row; give the changes that it made."""
        events = []
        for finding in findings:
            standing = self._alarms[finding.alarm]
            if not _settled(standing, finding, row.t_ns):
                continue
            standing.is_on = not standing.is_on
            if standing.is_on:
                signal = Signal.COMES
            else:
                signal = Signal.GOES_LATCHED if standing.kind.latched else Signal.GOES
            event = self._move(standing, signal, row.seq, row.t_ns, finding.message, forecast)
            if event is not None:
                events.append(event)
        return events

    def acknowledge(
        self, alarm: str, occurrence: int, by: str, seq: int, t_ns: int
    ) -> AlarmEvent | None:
        """Acknowledge one occurrence; None where it is gone or was acknowledged already."""
        standing = self._alarms.get(alarm)
        if standing is None or standing.occurrence != occurrence:
            return None
        message = f"acknowledged{' by ' + by if by else ''}"
        return self._move(standing, Signal.ACKNOWLEDGE, seq, t_ns, message, None, by)

    def _move(
        self,
        standing: _Standing,
        signal: Signal,
        seq: int,
        t_ns: int,
        message: str,
        forecast: Forecast | None,
        by: str | None = None,
    ) -> AlarmEvent | None:
        state, change = next_state(standing.state, signal)
        if change is None:
            return None
        standing.state = state
        if change is Change.RAISED:
            standing.occurrence += 1
        tells_time = standing.kind.name == TRIP_EXPECTED and forecast is not None
        shown = forecast if tells_time and forecast is not None else Forecast()
        return AlarmEvent(
            alarm=standing.kind.name,
            occurrence=standing.occurrence,
            change=change,
            state=state,
            priority=standing.kind.priority,
            seq=seq,
            t_ns=t_ns,
            message=message,
            trip_in_s=shown.trip_in_s,
            trip_in_low_s=shown.trip_in_low_s,
            trip_in_high_s=shown.trip_in_high_s,
            by=by,
        )


def _settled(standing: _Standing, finding: Finding, t_ns: int) -> bool:
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
