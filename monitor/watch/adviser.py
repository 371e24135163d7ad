"""Each row in; the volts to turn down to before a cut-out, told when they are new, out."""

import math
from dataclasses import replace

from monitor.analysis.advised_volts import NEAR_S, Advised, AdvisedVolts, Bounds
from monitor.analysis.chain import LEAST_VOLTS_ABOVE, MOST, Chain
from monitor.analysis.forecast import LEAST_VARIANCE, SWAB_WHITE_SHARE
from monitor.analysis.known_bath import KnownBath
from monitor.analysis.known_forecast import KnownForecast
from monitor.analysis.look_ahead import SWAB_DUTY, Noise
from monitor.model.bath_prior import BathPrior
from monitor.model.estimate import Estimate, Forecast, NoForecast
from monitor.model.fittings import Fittings
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Quality, Sample
from monitor.model.volts_advice import VoltsAdvice
from monitor.text.alarm_messages import turn_down_to
from monitor.text.volts_advice import advice_sentence, pause_for, withdrawn
from monitor.watch.strip_steps import Step

_SUSPECT = Quality.SUSPECT
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""
NEWS_VOLTS, NEWS_S, NEWS_NEAR_S = 0.25, 60.0, 20.0
"""An advice is told anew where volts or due time have changed by so much; the last where the move
is due soon."""
DUE_AGAIN_S = 10.0
"""It is told once more when its time has come."""
TREND_UNTIL_S = 600.0
"""So long before the limit the trend's own time is told."""
UNTOLD = frozenset((NoForecast.NOT_ENOUGH_DATA, NoForecast.NO_RISE, NoForecast.VOLTS_CHANGED))
DUTY_KEEP = 0.9
NEW_PART_S, NEW_PART_SHARE = 60.0, 0.8
"""After so long without current, and most of the charge, another part hangs there."""


class Adviser:
    """Follows one run's bath and says which volts will do.

    Parameters
    ----------
    facts
        Of the run: limit, litres, horizon.
    per_kelvin
        The bath's coefficient of conductance.
    fittings
        Window and density of the step in force.
    """

    def __init__(self, facts: RunFacts, per_kelvin: float, fittings: Fittings) -> None:
        self._limit_amps = facts.limit_amps
        self._trips = facts.limit_kind is LimitKind.TRIPS
        self.known = KnownBath(facts.limit_amps, facts.bath_litres, per_kelvin, fittings.cells)
        self._volts = AdvisedVolts(facts.horizon_s)
        self._ahead = KnownForecast(facts.horizon_s)
        self._need: float | None = None
        self._passed_before = 0.0
        self._off_s: float | None = None
        self._last_s: float | None = None
        self._amp_seconds = self._seconds = 0.0
        self._duty = 1.0
        self._noise = Noise(LEAST_VARIANCE, 1.0)
        self._is_swab = False
        self._told: tuple[Advised, bool] | None = None
        self.action = ""
        """What the hand does now about the volts; "" without an advice."""
        self.refit(fittings)

    def refit(self, fittings: Fittings) -> None:
        """Go on with another card's work and step."""
        window, job = fittings.window, fittings.job
        most = None
        if job.area_dm2 is not None and job.most_amps_per_dm2 is not None:
            most = job.area_dm2 * job.most_amps_per_dm2
        lowest = None if window is None else window.lowest_volts
        self._bounds = Bounds(self._limit_amps, lowest, most)

    def look_so_far(self, horizon_s: float) -> None:
        """Look ahead so far from now on: the way of the operator."""
        self._volts.look_so_far(horizon_s)
        self._ahead.horizon_s = horizon_s

    def expect_charge(self, amp_hours: float | None, passed: float) -> None:
        """Take the ampere-hours that the part is likely to take, from now on."""
        self._need, self._passed_before = amp_hours, passed

    def know(self, prior: BathPrior) -> None:
        """Take what earlier runs of the bath have taught."""
        self.known.know(prior)

    def update(
        self,
        row: Sample | Gap,
        estimate: Estimate,
        chain: Chain,
        is_off: bool,
        is_swab: bool,
        step: Step,
    ) -> VoltsAdvice | None:
        """Take the next row, after the estimators; an advice where there is something new."""
        if isinstance(row, Gap) or row.quality >= _SUSPECT:
            return None
        amps, volts = row.amps, row.volts
        if amps is None or volts is None or not (-MOST < volts < MOST and -MOST < amps < MOST):
            return None
        amps, t_s, last_s = max(amps, 0.0), row.t_s, self._last_s
        if last_s is not None and t_s <= last_s:
            return None
        self.known.flow(t_s, volts * amps)
        if last_s is not None and is_swab:
            self._amp_seconds += amps * (t_s - last_s)
            self._seconds += t_s - last_s
        self._last_s = t_s
        if is_off:
            self._off_s = t_s if self._off_s is None else self._off_s
            self._volts.restart()
            self._ahead.restart()
            return self._news(row)
        if self._off_s is not None:
            self._note_part(t_s, estimate.charge.amp_hours)
        if self._volts.standing is not None:
            self._volts.note_setting(t_s, volts)
        value = chain.value
        if value is not None and value.volts - self.known.zero_volts >= LEAST_VOLTS_ABOVE:
            noise = chain.noise
            log_amps = value.x + math.log(value.volts - chain.polarisation.volts)
            if is_swab:
                self._note_duty(log_amps)
            self.known.update(
                value.t_s, log_amps, value.volts, noise.white, noise.wander, noise.memory_s
            )
            self._look_ahead(t_s, chain, value.volts, is_swab)
            if not self._trips or step is not Step.STRIPPING:
                self._volts.restart()
            else:
                left = self._hours_left(estimate.charge.amp_hours)
                self._volts.update(
                    t_s, self.known, value.volts, self._noise, self._duty, self._bounds, left
                )
        elif self._told is None:
            return None
        return self._news(row)

    def _note_part(self, t_s: float, passed: float) -> None:
        off_s, self._off_s = self._off_s, None
        if off_s is None or self._need is None or t_s - off_s < NEW_PART_S:
            return
        if passed - self._passed_before > NEW_PART_SHARE * self._need:
            self._passed_before = passed

    def _note_duty(self, log_amps: float) -> None:
        if not self._is_swab:
            self._is_swab, self._duty = True, SWAB_DUTY
            self.known.doubt_level()
        if self._seconds > 0.0:
            share = min(self._amp_seconds / self._seconds / math.exp(log_amps), 1.0)
            self._duty += (1.0 - DUTY_KEEP) * (share - self._duty)
        self._amp_seconds = self._seconds = 0.0

    def forecast(self, t_s: float, trend: Forecast) -> Forecast:
        """What is told of the limit: by the trend near it, else by the bath as it is known."""
        told_s = trend.trip_in_s
        if told_s is not None:
            if told_s <= TREND_UNTIL_S:
                return trend
        elif trend.why not in UNTOLD:
            return trend
        ahead = self._ahead.forecast(t_s)
        if ahead is None:
            return trend
        chance = trend.chance_within_horizon
        return ahead if chance is None else replace(ahead, chance_within_horizon=chance)

    def _look_ahead(self, t_s: float, chain: Chain, volts: float, is_swab: bool) -> None:
        self._noise = self._noise_of(chain, is_swab)
        if self.known.knows_litres or self.known.has_history:
            limit = math.log(self._limit_amps)
            self._ahead.update(t_s, self.known, volts, limit, self._noise, self._duty)

    @staticmethod
    def _noise_of(chain: Chain, is_swab: bool) -> Noise:
        found = chain.noise
        white = SWAB_WHITE_SHARE * found.white if is_swab else 0.0
        variance = found.wander + white + LEAST_VARIANCE
        memory_s = variance / (
            found.wander / found.memory_s + 2.0 * white / chain.value_s + LEAST_VARIANCE
        )
        return Noise(variance, memory_s)

    def _hours_left(self, passed: float) -> float | None:
        if self._need is None:
            return None
        left = self._need - (passed - self._passed_before)
        return left if left > 0.02 * self._need else None

    def _news(self, row: Sample) -> VoltsAdvice | None:
        now, told = self._volts.standing, self._told
        if now is None:
            self.action = ""
            if told is None:
                return None
            self._told = None
            words = withdrawn(self._volts.was_followed)
            return VoltsAdvice(row.t_ns, row.seq, None, message=words)
        due_in_s = max(now.due_s - row.t_s, 0.0)
        is_due = due_in_s < DUE_AGAIN_S
        self.action = (
            pause_for(now.pause_s, now.volts) if now.pause_s > 0.0 else turn_down_to(now.volts)
        )
        if told is not None:
            before, was_due = told
            least_s = NEWS_NEAR_S if before.due_s - row.t_s < NEAR_S else NEWS_S
            is_same = (
                abs(now.volts - before.volts) < NEWS_VOLTS
                and (is_due or abs(now.due_s - before.due_s) < least_s)
                and (now.pause_s > 0.0) == (before.pause_s > 0.0)
                and (was_due or not is_due)
            )
            if is_same:
                return None
        self._told = (now, is_due)
        finish_s, holds_s = now.finish_s, now.holds_for_s
        words = advice_sentence(now.volts, due_in_s, finish_s, holds_s, now.pause_s, row.utc_ns)
        return VoltsAdvice(
            row.t_ns, row.seq, now.volts, due_in_s, finish_s, now.pause_s, holds_s, words
        )
