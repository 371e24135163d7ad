"""The estimators of one run: each sample or gap gives one `Estimate`."""

import math

from drivers.reading import Mode
from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN, BathTemperature, at_25
from monitor.analysis.charge import ChargePassed
from monitor.analysis.conductance import MOST_DOUBT, OFF_VOLTS, PolarisationVoltage
from monitor.analysis.contact import Contact
from monitor.analysis.finish import Finish, FinishWatch
from monitor.analysis.forecast import Forecaster
from monitor.analysis.gathering import Gathering, Value
from monitor.analysis.heat_watch import HeatWatch
from monitor.analysis.holding import Holding
from monitor.analysis.noise import Noise
from monitor.analysis.over_limit import OverLimit
from monitor.analysis.swab_finish import SwabFinish
from monitor.analysis.volts_set import VoltsSet
from monitor.model.estimate import Charge, Estimate, NoForecast
from monitor.model.fittings import NO_FITTINGS, Fittings
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, GapReason, Quality, Sample, longest_step_s

_SUSPECT, _NOT_ASKED = Quality.SUSPECT, GapReason.NOT_ASKED
_OUTPUT_OFF, _CUT_OUT = Mode.OUTPUT_OFF, Mode.CUT_OUT
_GAP, _NO_OUTPUT = NoForecast.GAP, NoForecast.OUTPUT_OFF
_LIMIT_WRONG, _CURRENT_HELD = NoForecast.LIMIT_WRONG, NoForecast.CURRENT_HELD
_NOT_ENOUGH_DATA = NoForecast.NOT_ENOUGH_DATA
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""

WALL_JUMP_NS = 1_000_000_000  # more: somebody set the clock, or the host slept
OFF_SHARE = 0.85
"""Share of the set volts under which volts without current are those of a dead output."""
LEAST_VOLTS_ABOVE = 0.3  # nearer, an error of the polarisation voltage is all that is seen
NOTHING_FLOWS = 0.005  # share of the limit under which the amps are the meter's own zero
MOST = 1e6
RESUME_READY_S = 6.0
"""After a change of the volts, a gap or a pause, where noise and slope are known by then."""
LONG_LIFT_S = 20.0
SAME = 0.03  # share of the volts within which a swab that was lifted comes back
HAND_SD = 0.08  # relative scatter of one sample of swab work
RAMP_SD = 0.1  # relative error of a pair of values taken while the volts ramp


class Chain:
    """All estimators of one supply, one sample at a time.

    The same samples always give the same estimates; what is kept does not grow.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds the current.
    horizon_s
        How far ahead `Forecast.chance_within_horizon` looks.
    poll_s
        Seconds between polls.
    limit_kind
        What the supply does at its limit.
    bath_litres
        Solution in the bath; None where unknown, then there is no temperature without a probe.
    per_kelvin
        Rise of the bath's conductance per kelvin, referred to 25 C.
    fittings
        Conductors, leads, job and limits that are watched beside the supply's own.

    Examples
    --------
    Seven volts into 1 S behind 1.8 V, with 10 A as the limit:

    >>> chain = Chain(limit_amps=10.0, poll_s=1.0)
    >>> for n in range(120):
    ...     estimate = chain.update(Sample(n, n * 10**9, n * 10**9, 5000, 7.0, 5.2))
    >>> round(estimate.siemens, 3), estimate.forecast.why.value
    (1.0, 'no rise')
    >>> estimate = chain.update(Gap(120, 124 * 10**9, 124 * 10**9, "no answer"))
    >>> estimate.forecast.why.value, round(estimate.charge.amp_hours, 4)
    ('gap', 0.1719)
    """

    __slots__ = (
        *("_bath", "_charge", "_contact", "_extra_ohms", "_finish", "_finish_volts", "_forecaster"),
        *("_gathering", "_heat", "_holds", "_in_contact", "_is_off", "_last_ns"),
        *("_last_utc_ns", "_lifted_s", "_lifted_volts", "_limit_amps", "_log_limit", "_longest_ns"),
        *("_nothing_flows", "_off_s", "_origin_ns", "_over_limit", "_per_kelvin", "_volts"),
        *("_x_before", "finished", "holding", "polarisation", "value"),
    )

    def __init__(
        self,
        limit_amps: float,
        horizon_s: float = 120.0,
        poll_s: float = 0.2,
        limit_kind: LimitKind = LimitKind.TRIPS,
        bath_litres: float | None = None,
        per_kelvin: float = CAUSTIC_PER_KELVIN,
        fittings: Fittings = NO_FITTINGS,
    ) -> None:
        self._limit_amps = limit_amps
        self._log_limit = math.log(limit_amps)
        self._nothing_flows = NOTHING_FLOWS * limit_amps
        self.holding = Holding(limit_amps, limit_kind is LimitKind.HOLDS)
        self._per_kelvin = per_kelvin
        self._longest_ns = round(longest_step_s(poll_s) * 1e9)
        self._charge = ChargePassed(poll_s)
        self.polarisation = PolarisationVoltage(fittings.cells)
        self._contact = Contact()
        self._volts = VoltsSet(max(2.0, 2.0 * poll_s))
        self._gathering = Gathering(poll_s)
        self._forecaster = Forecaster(horizon_s, self._gathering.bin_s)
        self._bath = BathTemperature(bath_litres)
        self._heat = HeatWatch(fittings)
        self._finish: FinishWatch | SwabFinish = FinishWatch(fittings.job.least_amp_hours)
        self._extra_ohms: float | None = None
        self._finish_volts = 0.0
        self.finished: Finish | None = None
        self.value: Value | None = None
        """What the last sample gave to the forecast; mostly nothing."""
        self._origin_ns: int | None = None
        self._last_ns: int | None = None
        self._last_utc_ns = 0
        self._is_off = True
        self._off_s = 0.0
        self._over_limit = OverLimit(limit_amps)
        self._holds = False
        self._in_contact = True
        self._lifted_s: float | None = None
        self._lifted_volts = 0.0
        self._x_before: float | None = None

    def look_so_far(self, horizon_s: float) -> None:
        """Look ahead so far from now on."""
        self._forecaster.horizon_s = horizon_s

    def refit(self, fittings: Fittings) -> None:
        """Go on with the work and the limits of another job card."""
        self._heat.refit(fittings)
        self._finish.least_amp_hours = fittings.job.least_amp_hours

    @property
    def is_swab(self) -> bool:
        """Whether the amps came and went as a hand's do."""
        return self._gathering.is_swab

    @property
    def noise(self) -> Noise:
        """Of the values that the forecast is given."""
        return self._forecaster.noise

    @property
    def value_s(self) -> float:
        """Seconds between two of them."""
        return self._gathering.highest_s if self._gathering.is_swab else self._gathering.bin_s

    def begin_with(self, charge: Charge, seconds: float) -> None:
        """Count on from a charge that had passed after so many seconds; before the first row."""
        self._charge.begin_with(charge, seconds)

    def update(self, item: Sample | Gap) -> Estimate:
        """Take the next sample or gap of the run; say what it means."""
        t_ns = item.t_ns
        if self._origin_ns is None:
            self._origin_ns = t_ns
        t_s = (t_ns - self._origin_ns) * 1e-9
        self.finished = self.value = None
        # Written so that NaN and infinity fail it too.
        if (
            isinstance(item, Gap)
            or item.quality >= _SUSPECT
            or (volts := item.volts) is None
            or (amps := item.amps) is None
            or not (-MOST < volts < MOST and -MOST < amps < MOST)
        ):
            if item.reason != _NOT_ASKED:
                self._charge.update(t_s, None)
            last_ns = self._last_ns
            if last_ns is not None and t_ns - last_ns > self._longest_ns and not self._is_off:
                self._forecaster.withhold(_GAP)
            return self._estimate(item.seq, t_ns, None)
        if amps < 0.0:
            amps = 0.0
        self._charge.update(t_s, amps)
        if not self._follows(t_ns, item.utc_ns):
            return self._estimate(item.seq, t_ns, volts)
        self._bath.update(t_s, volts * amps, item.celsius)
        self._heat.update(t_s, amps, self._bath.celsius)
        self._take(t_s, volts, amps, item.mode)
        return self._estimate(item.seq, t_ns, volts)

    def _follows(self, t_ns: int, utc_ns: int) -> bool:
        """Whether time went on; breaks the stretch where it went on unseen."""
        last_ns = self._last_ns
        if last_ns is not None:
            step_ns = t_ns - last_ns
            if step_ns <= 0:
                return False
            wall_ns = utc_ns - self._last_utc_ns
            # A bare table of times has no wall clock; a host that slept shows it there alone.
            jump_ns = wall_ns - step_ns if wall_ns else 0
            if step_ns > self._longest_ns or not -WALL_JUMP_NS <= jump_ns <= WALL_JUMP_NS:
                self._resume(_GAP, (step_ns + max(jump_ns, 0)) * 1e-9)
                self._finish.restart()
                self._volts.restart()
        self._last_ns = t_ns
        self._last_utc_ns = utc_ns
        return True

    def _take(self, t_s: float, volts: float, amps: float, mode: Mode) -> None:
        forecaster, watched = self._forecaster, self._volts
        above = volts - self.polarisation.volts
        if (
            mode is _OUTPUT_OFF
            or mode is _CUT_OUT
            or volts < OFF_VOLTS
            or (amps < self._nothing_flows and self._has_died(volts, above))
        ):
            if not self._is_off:
                self._is_off = self._in_contact = True
                self._off_s = t_s
                self._x_before = None
                self.holding.restart()
            forecaster.withhold(_NO_OUTPUT)
            return
        if self._is_off:
            self._is_off = False
            self._resume(_NOT_ENOUGH_DATA, t_s - self._off_s)
            self._finish.restart()
            self._extra_ohms = None
            watched.begin_ramp(t_s)
        if self._over_limit.update(t_s, amps):
            forecaster.withhold(_LIMIT_WRONG)
            return
        if self.holding.update(t_s, volts, amps, mode):
            self._holds = True
            forecaster.withhold(_CURRENT_HELD)
            flows = amps > self._nothing_flows and above >= LEAST_VOLTS_ABOVE
            if flows and self._in_contact and not self._gathering.is_swab:
                self._watch_for_the_end(t_s, math.log(amps / above))
            return
        if self._holds:
            self._holds = False
            watched.restart()
            self._resume(_NOT_ENOUGH_DATA, 0.0)
        was_moving = watched.is_moving
        if not watched.update(t_s, volts, amps):
            if not was_moving:
                trend = forecaster.trend
                self._x_before = trend.level + trend.wander if trend.is_started else None
                forecaster.restart(NoForecast.VOLTS_CHANGED, 0.0, RESUME_READY_S)
                self._gathering.drop()
                self._finish.restart()
            return
        if was_moving:
            self._learn(volts, amps)
            above = volts - self.polarisation.volts
        if above < LEAST_VOLTS_ABOVE:
            forecaster.withhold(_NOT_ENOUGH_DATA)
            return
        if self._touches(t_s, amps, above):
            x = math.log(amps / above)
            for value in self._gathering.update(t_s, x, volts):
                self._forecast(value)

    def _has_died(self, volts: float, above: float) -> bool:
        """Whether volts without current are those of an output that is off."""
        if above < LEAST_VOLTS_ABOVE and not self._volts.is_moving:
            self.holding.set_volts = 0.0  # whatever comes on next is set anew
            return True
        return volts < OFF_SHARE * self.holding.set_volts

    def _touches(self, t_s: float, amps: float, above: float) -> bool:
        """Whether the swab, or the part, is in contact; sees to what a lift means."""
        contact = self._contact
        if amps < self._nothing_flows or not contact.update(t_s, math.log(amps / above)):
            if self._in_contact:
                self._in_contact = False
                self._lifted_s, self._lifted_volts = t_s, self._volts.volts or 0.0
            elif self._lifted_s is not None and t_s - self._lifted_s > LONG_LIFT_S:
                self._lifted_s = None
                self._contact.restart()
                self._gathering.drop()
                self._forecaster.restart(_NOT_ENOUGH_DATA)
            return False
        if contact.is_new_level:
            self._gathering.drop()
            self._forecaster.restart(_NOT_ENOUGH_DATA)
        elif self._is_back() and not self._gathering.is_swab:
            self._begin_swab_work()
        self._in_contact = True
        self._lifted_s = None
        return True

    def _is_back(self) -> bool:
        """Whether a swab that was lifted comes back; a stack's soft start moves the volts, too."""
        far = abs((self._volts.volts or 0.0) - self._lifted_volts)
        return (
            not self._in_contact and self._lifted_s is not None and far < SAME * self._lifted_volts
        )

    def _begin_swab_work(self) -> None:
        """It was lifted and came back: follow the tops of the strokes, past ones first."""
        horizon_s, bin_s = self._forecaster.horizon_s, self._gathering.highest_s
        self._forecaster = Forecaster(horizon_s, bin_s, is_swab=True)
        self._finish = SwabFinish(self._finish.least_amp_hours)
        for value in self._gathering.begin_swab_work():
            self._forecast(value)

    def _forecast(self, value: Value) -> None:
        if self.polarisation.doubt(self._finish_volts, value.volts) > MOST_DOUBT:
            self._finish_volts = value.volts
            self._finish.restart()
        top = self._gathering.highest(value) if self._gathering.is_swab else value
        if top is not None:
            self.value = top
            limit_x = self._log_limit - math.log(top.volts - self.polarisation.volts)
            self._forecaster.update(top.place, top.t_s, top.x, limit_x)
        self._watch_for_the_end(value.t_s, value.x)

    def _watch_for_the_end(self, t_s: float, x: float) -> None:
        noise = self._forecaster.noise
        sd = math.sqrt(noise.white + noise.wander)
        finish = self._finish.update(t_s, x, self._charge.amp_hours, sd)
        if finish is not None:
            self.finished = finish
            # Another strip, or oxygen in the place of chromium: the slope so far says nothing.
            self._forecaster.restart(NoForecast.LOOKS_FINISHED)
        step = self._finish.step
        if step is not None and not self._gathering.is_swab:
            # What a contact has taken, it gives back by a step of the other sign.
            extra = math.exp(-x) * (1.0 - math.exp(step))
            self._extra_ohms = None if step > 0.0 else (self._extra_ohms or 0.0) + extra

    def _learn(self, volts: float, amps: float) -> None:
        """Learn the polarisation voltage from the change of volts that is now over."""
        watched, polarisation, noise = self._volts, self.polarisation, self._forecaster.noise
        before = polarisation.volts
        if amps < self._nothing_flows or volts - before < LEAST_VOLTS_ABOVE:
            # After the output goes off, the cell's own volts fade for a minute: no step of a hand.
            self._x_before = None
            return
        if watched.before is not None and self._x_before is not None:
            amps_before = math.exp(self._x_before) * (watched.before - before)
            sd = math.sqrt(2.0 * (noise.white + noise.wander))
            if self._gathering.is_swab:
                sd = max(sd, HAND_SD)
            polarisation.learn(watched.before, amps_before, volts, amps, sd)
        else:
            for ramp_volts, ramp_amps in watched.ramp:
                if 0.4 * volts < ramp_volts < 0.8 * volts:
                    polarisation.learn(ramp_volts, ramp_amps, volts, amps, RAMP_SD)
        self._x_before = None
        if polarisation.volts != before:
            self._contact.shift(math.log((volts - before) / (volts - polarisation.volts)))
            self._gathering.shift(before, polarisation.volts)

    def _resume(self, why: NoForecast, unseen_s: float) -> None:
        """The same bath, most likely, but nobody saw it for `unseen_s`."""
        self._forecaster.restart(why, unseen_s, RESUME_READY_S)
        self._contact.restart()
        self._gathering.drop()
        self._in_contact = True
        self._lifted_s = None
        self._x_before = None

    def _estimate(self, seq: int, t_ns: int, volts: float | None) -> Estimate:
        forecaster, bath = self._forecaster, self._bath
        trend = forecaster.trend
        siemens = per_minute = expected = share = at_start = referred = None
        start_x = self._gathering.start_x
        if start_x is not None:
            at_start = math.exp(start_x)
        if trend.is_started and not self._is_off:
            siemens = math.exp(trend.level)
            if bath.celsius is not None:
                referred = at_25(siemens, bath.celsius, self._per_kelvin)
            if forecaster.is_settled:
                per_minute = siemens * trend.slope * 60.0
            if volts is not None and volts > self.polarisation.volts:
                above = volts - self.polarisation.volts
                expected = siemens * math.exp(forecaster.peak_excess) * above
            if start_x is not None:
                share = bath.share_of(trend.level - start_x, self._per_kelvin)
        return Estimate(
            seq,
            t_ns,
            forecaster.forecast,
            self._charge.charge,
            siemens,
            at_start,
            per_minute,
            expected,
            share,
            bath.celsius,
            self._in_contact,
            referred,
            None if at_start is None else bath.warming_rise(self._per_kelvin),
            self._heat.heat,
            self._extra_ohms,
            self.polarisation.volts,
        )
