"""Whether each alarm's condition holds after one row and its estimate, and in which words.

A condition is True, False, or None for "cannot be known now", which leaves the alarm as it
stands: a lost link never makes a threshold alarm look fine.
"""

from drivers.errors import Reason
from drivers.reading import Mode
from monitor.alarms.circuit_conditions import CircuitConditions
from monitor.analysis.cut_out import AT_LIMIT, DEAD_AMPS, NEAR_LIMIT, CutOut, CutOutWatch
from monitor.analysis.short import Short
from monitor.model.alarm import AlarmName, Priority
from monitor.model.estimate import Estimate, Forecast, NoForecast
from monitor.model.finding import Finding
from monitor.model.fittings import NO_FITTINGS, Fittings
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, GapReason, Quality, Sample
from monitor.text import alarm_messages as say

_SUSPECT = Quality.SUSPECT
_UNKNOWN = Mode.UNKNOWN
_CONSTANT_CURRENT = Mode.CONSTANT_CURRENT
_NO_CUT_OUT = CutOut.NONE
_LIMITS = LimitKind.HOLDS
_NO_RISE = NoForecast.NO_RISE
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""
READINGS_COME = Finding(AlarmName.NO_DATA, False, say.READINGS_COME)
DELIVERS = Finding(AlarmName.TRIPPED, False, say.DELIVERS)
NOT_HELD = Finding(AlarmName.CURRENT_LIMITED, False, say.NOT_HELD)
NOT_EXPECTED = Finding(AlarmName.TRIP_EXPECTED, False, say.NO_TRIP)
EXPECTED_OR_NOT = Finding(AlarmName.TRIP_EXPECTED, None, say.NO_TRIP)
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
SAGGED = 0.97
"""Share of the set volts under which the volts are said to have given way."""
UPRIGHT, BELOW_LIMIT = 0.985, 0.96
"""Shares of volts and amps at which a supply that held the current does so no more: dead-bands."""


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
    """

    def __init__(
        self,
        limit_amps: float,
        limit_kind: LimitKind,
        no_data_after_s: float,
        fittings: Fittings = NO_FITTINGS,
    ) -> None:
        self._limit_amps = limit_amps
        self._limit_kind = limit_kind
        self._no_data_after_s = no_data_after_s
        self._last_good_s: float | None = None
        self._began_s: float | None = None
        self._cut_out = CutOutWatch(limit_amps, limit_kind is LimitKind.TRIPS, no_data_after_s)
        self._circuit = CircuitConditions(limit_amps, fittings)

    @property
    def cut_out(self) -> CutOut:
        """What is known of a cut-out, after the last sample."""
        return self._cut_out.now

    @property
    def turned_down_from(self) -> float | None:
        """The volts from which they were turned down in the last seconds; None where not."""
        return self._cut_out.turned_down_from

    def refit(self, fittings: Fittings) -> None:
        """Go on with the work, the limits and the step of another job card."""
        self._circuit.refit(fittings)

    @property
    def short(self) -> Short | None:
        """The short that stands, after the last sample."""
        return self._circuit.short

    def go_on(self, t_s: float) -> None:
        """Be told that nobody polled until now: that silence is not the supply's."""
        self._began_s, self._last_good_s = t_s, None

    def judge(
        self,
        row: Sample | Gap,
        estimate: Estimate,
        expected_stands: bool,
        is_off_awaited: bool = False,
    ) -> tuple[Finding, ...]:
        """Every condition after this row, in the order of the catalogue.

        `expected_stands` says whether `trip-expected` is up, `is_off_awaited` whether the strip is
        at its end: both count where nobody knows why an output is dead.
        """
        if self._began_s is None:
            self._began_s = row.t_s
        usable = isinstance(row, Sample) and row.quality is not _SUSPECT
        if not usable or not isinstance(row, Sample) or row.amps is None or row.volts is None:
            since = self._last_good_s if self._last_good_s is not None else self._began_s
            silent_s = row.t_s - since
            return (self._no_data(row, silent_s),)
        self._last_good_s = row.t_s
        how = self._cut_out.update(
            row.t_s, row.volts, row.amps, row.mode, expected_stands, is_off_awaited
        )
        cut_out = how is not _NO_CUT_OUT
        held = self._judge_held(row, row.volts, row.amps)
        short = self._circuit.judge_short(row.t_s, row.volts, row.amps, estimate)
        expected = self._judge_expected(estimate.forecast, row.amps, cut_out, expected_stands)
        if cut_out:
            # One cause, one alarm: from here on the cut-out tells of the short.
            short = short._replace(message=say.CUT_OUT_ON_SHORT, at_once=True)
        return (
            READINGS_COME,
            short,
            self._tripped(how) if cut_out else DELIVERS,
            Finding(AlarmName.CURRENT_LIMITED, True, say.held(self._limit_amps, row.volts))
            if held
            else NOT_HELD,
            self._expected(expected, estimate.forecast, cut_out, expected_stands),
            *self._circuit.judge(row.volts, row.amps, estimate),
        )

    def _tripped(self, how: CutOut) -> Finding:
        priority = Priority.HIGH if how is CutOut.POSSIBLE else None
        return Finding(AlarmName.TRIPPED, True, self._cut_out_words(how), priority=priority)

    def _expected(
        self, holds: bool | None, forecast: Forecast, cut_out: bool, stands: bool
    ) -> Finding:
        if holds or stands:
            words = self._expected_words(forecast, cut_out)
            return Finding(AlarmName.TRIP_EXPECTED, holds, words, at_once=cut_out)
        if cut_out:
            return TRIPPED_ALREADY
        return EXPECTED_OR_NOT if holds is None else NOT_EXPECTED

    def _no_data(self, row: Sample | Gap, silent_s: float) -> Finding:
        holds = True if silent_s >= self._no_data_after_s else None
        return Finding(AlarmName.NO_DATA, holds, say.no_reading(silent_s, _cause(row)))

    def _judge_held(self, row: Sample, volts: float, amps: float) -> bool:
        is_held, self._cut_out.is_held = self._cut_out.is_held, False
        if row.mode is _CONSTANT_CURRENT:
            return amps > DEAD_AMPS * self._limit_amps
        if row.mode is not _UNKNOWN or self._limit_kind is not _LIMITS:
            return False
        working_volts = self._cut_out.working_volts
        at_limit, sagged = (BELOW_LIMIT, UPRIGHT) if is_held else (AT_LIMIT, SAGGED)
        self._cut_out.is_held = is_held = (
            working_volts is not None
            and amps >= at_limit * self._limit_amps
            and volts < sagged * working_volts
        )
        return is_held

    def _judge_expected(
        self, forecast: Forecast, amps: float, cut_out: bool, stands: bool
    ) -> bool | None:
        if cut_out:
            return False
        chance = forecast.chance_within_horizon
        if chance is not None:
            return chance > (RETURN_BELOW if stands else RAISE_ABOVE)
        if forecast.why is _NO_RISE:
            return False
        # Without a forecast a standing warning stays while the amps are still near the limit.
        return False if stands and amps < NEAR_LIMIT * self._limit_amps else None

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
