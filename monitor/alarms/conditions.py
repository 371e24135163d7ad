"""Whether each alarm's condition holds after one row and its estimate, and in which words.

A condition is True, False, or None for "cannot be known now", which leaves the alarm as it
stands: a lost link never makes a threshold alarm look fine.
"""

import math

from drivers.errors import Reason
from monitor.alarms.circuit_conditions import CircuitConditions
from monitor.alarms.current_conditions import QUIET as CURRENT_QUIET
from monitor.alarms.current_conditions import CurrentConditions
from monitor.alarms.volts_conditions import VoltsConditions
from monitor.analysis.cut_out import FLOWS, NEAR_LIMIT, CutOut, CutOutWatch
from monitor.analysis.holding import Holding
from monitor.analysis.jump import Jump
from monitor.analysis.meter import Meter
from monitor.analysis.short import Short
from monitor.model.alarm import AlarmName, Priority
from monitor.model.estimate import Estimate, Forecast, NoForecast
from monitor.model.finding import Finding
from monitor.model.fittings import NO_FITTINGS, Fittings
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, GapReason, Quality, Sample
from monitor.text import alarm_messages as say

_SUSPECT = Quality.SUSPECT
_NO_CUT_OUT = CutOut.NONE
_NO_RISE = NoForecast.NO_RISE
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""
READINGS_COME = Finding(AlarmName.NO_DATA, False, say.READINGS_COME)
DELIVERS = Finding(AlarmName.TRIPPED, False, say.DELIVERS)
READINGS_MOVE = Finding(AlarmName.READINGS_FROZEN, False, say.READINGS_MOVE)
COMES_BACK = Finding(AlarmName.TRIPPED, None, "")
NOT_EXPECTED = Finding(AlarmName.TRIP_EXPECTED, False, say.NO_TRIP)
EXPECTED_OR_NOT = Finding(AlarmName.TRIP_EXPECTED, None, say.NO_TRIP)
NOT_SURE = Finding(AlarmName.TRIPPED, None, "")
TRIPPED_ALREADY = Finding(AlarmName.TRIP_EXPECTED, False, say.NO_TRIP, at_once=True)
WATCHED = Finding(AlarmName.WATCH_FAILED, False, say.WATCHED_AGAIN)
ALL_WELL = (
    WATCHED,
    Finding(AlarmName.WRONG_SUPPLY, False, say.SAME_SUPPLY),
    Finding(AlarmName.HOST_PAUSED, False, say.GOES_ON),
)
"""Made once: they come with nearly every sample."""
RAISE_ABOVE = 0.5
"""Chance within the horizon over which a trip is expected: even odds."""
RETURN_BELOW = 0.2
"""Chance under which it is expected no more; the distance is the dead-band."""
SAID_ANEW_S = 1.9
"""So often the numbers of a standing alarm are brought up to date."""
RESTARTS_WITHIN_S = 30.0
DELIVERED_S = 60.0
"""A supply that delivers again by itself has not recovered before it has done so for a minute."""


class Conditions:
    """Judges the alarms' conditions for one supply.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds, amps.
    limit_kind
        Which of the two it does.
    no_data_after_s
        Seconds without a good sample after which nothing is known; at least three polls.
    fittings
        What the amps go through, and may do there.
    poll_s
        Seconds between polls.
    """

    def __init__(
        self,
        limit_amps: float,
        limit_kind: LimitKind,
        no_data_after_s: float,
        fittings: Fittings = NO_FITTINGS,
        poll_s: float = 0.2,
    ) -> None:
        self._limit_amps = limit_amps
        self._limit_kind = limit_kind
        self._no_data_after_s = no_data_after_s
        self._last_good_s: float | None = None
        self._began_s: float | None = None
        self._cut_out = CutOutWatch(
            limit_amps, limit_kind is LimitKind.TRIPS, no_data_after_s, fittings.cells
        )
        self._flows = FLOWS * limit_amps
        self._near_amps = NEAR_LIMIT * limit_amps
        self._fittings = fittings
        self._circuit = CircuitConditions(fittings)
        self._volts = VoltsConditions(limit_amps, fittings)
        self.meter = Meter(poll_s)
        self.current = CurrentConditions(limit_amps, limit_kind, poll_s, fittings)
        self._out_s: float | None = None
        self._on_s: float | None = None
        self._is_doubtful = False
        self._expected, self._expected_s = NOT_EXPECTED, -math.inf
        self._parts: tuple[object, ...] = ()
        self._found: tuple[Finding, ...] = ()
        self.is_calm = False

    @property
    def cut_out(self) -> CutOut:
        """What is known of a cut-out, after the last sample."""
        return self._cut_out.now

    @property
    def is_doubtful(self) -> bool:
        """Whether the output went off near the limit, no trip was expected, and nothing says why.

        The operator is asked then; it is no alarm.
        """
        return self._is_doubtful

    @property
    def peak_amps(self) -> float | None:
        """The highest amps of the last seconds with current."""
        return self._cut_out.peak_amps

    @property
    def turned_down_from(self) -> float | None:
        """The volts from which they were turned down in the last seconds; None where not."""
        return self._cut_out.turned_down_from

    def refit(self, fittings: Fittings, works_by_swab: bool = False) -> None:
        """Go on with the work, the limits and the step of another job card."""
        self.current.works_by_swab = works_by_swab
        self._fittings = fittings
        self._circuit.refit(fittings)
        self._volts.refit(fittings)
        self.current.refit(fittings)

    @property
    def cells(self) -> int:
        """In series, by the settings."""
        return self._fittings.cells

    @property
    def short(self) -> Short | None:
        """The short that stands, after the last sample."""
        return self.current.short

    @property
    def jump(self) -> Jump | None:
        """A jump of the amps, also one that a single reading has shown."""
        return self.current.jump

    def go_on(self, t_s: float) -> None:
        """Be told that nobody polled until now: that silence is not the supply's."""
        self._began_s, self._last_good_s = t_s, None

    def judge(
        self,
        row: Sample | Gap,
        estimate: Estimate,
        expected_stands: bool,
        holding: Holding,
        intercepts: tuple[float, float],
        is_off_awaited: bool = False,
        is_swab: bool = False,
        is_at_rest: bool = False,
    ) -> tuple[Finding, ...]:
        """Every condition after this row, in the order of the catalogue.

        `is_at_rest` says whether the output had been off for a while at the last reading.

        `expected_stands` says whether `trip-expected` is up, `is_off_awaited` whether the strip is
        at its end: both count where nobody knows why an output is dead.
        """
        if self._began_s is None:
            self._began_s = row.t_s
        usable = isinstance(row, Sample) and row.quality is not _SUSPECT
        if not usable or not isinstance(row, Sample) or row.amps is None or row.volts is None:
            since = self._last_good_s if self._last_good_s is not None else self._began_s
            silent_s = row.t_s - since
            self.is_calm = False
            return (self._no_data(row, silent_s, is_at_rest),)
        volts, amps = row.volts, row.amps
        t_s = self._last_good_s = row.t_s
        is_held = holding.is_held
        how = self._cut_out.update(t_s, volts, amps, row.mode, expected_stands, is_off_awaited)
        self._cut_out.is_held = is_held
        flows = amps >= self._flows
        self.meter.update(t_s, volts, amps, flows)
        current = self.current.judge(row, volts, amps, holding, intercepts, is_swab)
        tripped = DELIVERS
        if how is not _NO_CUT_OUT or self._out_s is not None:
            tripped = self._judge_tripped(t_s, how, expected_stands)
        expected = self._judge_expected(row, estimate, how, expected_stands, is_held)
        margin = self._volts.judge_margin(t_s, volts, amps, estimate.polarisation_volts, is_held)
        circuit = self._circuit.judge(volts, amps, estimate, self.current.drop)
        is_asked_down = expected_stands or is_held or amps >= self._near_amps
        window = self._volts.judge_window(t_s, volts, flows, is_asked_down)
        frozen = self._judge_frozen(volts, amps) if self.meter.is_frozen else READINGS_MOVE
        parts = (current, tripped, expected, margin, circuit, window, frozen)
        self.is_calm = current is CURRENT_QUIET and tripped is DELIVERS
        if parts == self._parts:
            return self._found
        self._parts = parts
        short, reverse, *jumps, limit, held, opened = current
        if how is not _NO_CUT_OUT:
            # One cause, one alarm: from here on the cut-out tells of the short.
            short = short._replace(message=say.CUT_OUT_ON_SHORT, at_once=True)
        self._found = (
            READINGS_COME,
            frozen,
            short,
            reverse,
            *jumps,
            tripped,
            limit,
            held,
            expected,
            margin,
            *circuit,
            opened,
            *window,
        )
        return self._found

    def _judge_frozen(self, volts: float, amps: float) -> Finding:
        words = say.frozen(self.meter.unchanged_s, volts, amps)
        return Finding(AlarmName.READINGS_FROZEN, True, words)

    def _judge_tripped(self, t_s: float, how: CutOut, expected_stands: bool) -> Finding:
        if how is not _NO_CUT_OUT:
            if self._out_s is None or self._on_s is not None:
                self._out_s, self._on_s = t_s, None
                was_turned_down = self._cut_out.turned_down_from is not None
                self._is_doubtful = was_turned_down or not expected_stands
            self._is_doubtful = self._is_doubtful and not how.is_sure
            return NOT_SURE if self._is_doubtful else self._tripped(how)
        self._is_doubtful = False
        if self._out_s is None:
            return DELIVERS
        if self._on_s is None:
            self._on_s = t_s
        if self._on_s - self._out_s <= RESTARTS_WITHIN_S and t_s - self._on_s < DELIVERED_S:
            return COMES_BACK
        self._out_s = None
        return DELIVERS

    def _tripped(self, how: CutOut) -> Finding:
        words = self._cut_out_words(how)
        if how.is_sure:
            return Finding(AlarmName.TRIPPED, True, words)
        return Finding(
            AlarmName.TRIPPED, True, words, priority=Priority.HIGH, action=say.MAY_HAVE_CUT_OUT
        )

    def _no_data(self, row: Sample | Gap, silent_s: float, is_at_rest: bool) -> Finding:
        holds = True if silent_s >= self._no_data_after_s else None
        words = say.no_reading(silent_s, _cause(row))
        if not is_at_rest:
            return Finding(AlarmName.NO_DATA, holds, words)
        words, action = f"{words}; the output was off", say.END_OF_THE_DAY
        return Finding(AlarmName.NO_DATA, holds, words, priority=Priority.LOW, action=action)

    def _judge_expected(
        self, row: Sample, estimate: Estimate, how: CutOut, stands: bool, is_held: bool
    ) -> Finding:
        forecast, cut_out = estimate.forecast, how is not _NO_CUT_OUT
        holds: bool | None = False
        if not (cut_out or is_held or self.current.is_limit_wrong):
            holds = self._is_expected(forecast, row.amps or 0.0, stands)
        if not holds and not stands:
            if cut_out:
                return TRIPPED_ALREADY
            return EXPECTED_OR_NOT if holds is None else NOT_EXPECTED
        if holds and stands and row.t_s - self._expected_s < SAID_ANEW_S:
            return self._expected
        words = self._expected_words(forecast, cut_out)
        if not holds:
            self._expected_s = -math.inf
            return Finding(AlarmName.TRIP_EXPECTED, holds, words, at_once=cut_out or is_held)
        volts, amps, intercept = row.volts or 0.0, row.amps or 0.0, estimate.polarisation_volts
        action = self._volts.way_down(volts, amps, intercept)
        self._expected_s = row.t_s
        self._expected = Finding(AlarmName.TRIP_EXPECTED, True, words, action=action)
        return self._expected

    def _is_expected(self, forecast: Forecast, amps: float, stands: bool) -> bool | None:
        chance = forecast.chance_within_horizon
        if chance is not None:
            return chance > (RETURN_BELOW if stands else RAISE_ABOVE)
        if forecast.why is _NO_RISE:
            return False
        # Without a forecast a standing warning stays while the amps are still near the limit.
        return False if stands and amps < self._near_amps else None

    def _cut_out_words(self, how: CutOut) -> str:
        if how is CutOut.POSSIBLE:
            return say.may_have_tripped(self._limit_amps)
        return say.tripped(self._cut_out.peak_amps, self._limit_amps)

    def _expected_words(self, forecast: Forecast, cut_out: bool) -> str:
        if forecast.trip_in_s is not None:
            return say.trip_expected(
                self._limit_kind,
                self._limit_amps,
                forecast.trip_in_s,
                forecast.trip_in_low_s,
                forecast.trip_in_high_s,
            )
        if not cut_out:
            return say.NO_TRIP
        return say.CUT_OUT if self._cut_out.now.is_sure else say.OUTPUT_OFF


def _cause(row: Sample | Gap) -> str:
    if isinstance(row, Gap):
        return row.detail or row.reason
    return row.reason or say.NO_VALUE


def interruptions(row: Sample | Gap) -> tuple[Finding, ...]:
    """Whether monitoring stands still for a cause of its own, by one row.

    A sample ends every such cause. A poll that was asked and not answered ends a pause, but does
    not say who would have answered.
    """
    if isinstance(row, Sample):
        return ALL_WELL
    is_paused = row.reason == GapReason.HOST_PAUSED
    paused_words = row.detail or row.reason if is_paused else say.GOES_ON
    return (
        WATCHED,
        Finding(
            AlarmName.WRONG_SUPPLY,
            row.reason == Reason.WRONG_SUPPLY or None,
            row.detail or row.reason,
        ),
        Finding(AlarmName.HOST_PAUSED, is_paused, paused_words),
    )
