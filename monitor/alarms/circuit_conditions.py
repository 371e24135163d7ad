"""One sample and its estimate in; whether heat, density, contacts and volts are as they should."""

from monitor.analysis.conductance import OFF_VOLTS
from monitor.analysis.cut_out import FLOWS
from monitor.model.alarm import AlarmName
from monitor.model.estimate import Estimate
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.text import alarm_messages as say

HEAT_WITHIN_S = 120.0
"""A conductor that is at its heat within this is told; one that needs twice as long, no more."""
BATH_WITHIN_S = 300.0
DENSITY_BAND = 0.05
"""Dead-band of the density, a share of its limit."""
WINDOW_BAND = 0.1
"""Volts beyond the window before they count as outside; within half of it they are back."""
RISE_VOLTS = 0.05
RISING_S = 3.0
"""Volts that have come up by so much within so long are on their way: a soft start, or the hand
on the knob. Only what stands under the window counts."""
LEAST_WATTS = 3.0
"""What a clip may turn into heat before it is told (common practice, no source)."""

INSIDE_WINDOW = Finding(AlarmName.OUTSIDE_VOLTAGE_WINDOW, False, say.IN_WINDOW)
NO_WINDOW = Finding(AlarmName.OUTSIDE_VOLTAGE_WINDOW, False, say.NO_WINDOW)
NOTHING_HOT = Finding(AlarmName.OVERHEATING, False, say.NOTHING_HOT)
NONE_HOT = (NOTHING_HOT,)
MORE_IS_HOT = Finding(AlarmName.OVERHEATING, False, say.MORE_IS_HOT, at_once=True)
NO_DENSITY = Finding(AlarmName.DENSITY_HIGH, False, say.NO_DENSITY)
CONNECTIONS_HOLD = Finding(AlarmName.CONNECTION_RESISTANCE, False, say.CONNECTIONS_HOLD)


class CircuitConditions:
    """Judges what the amps do on their way from the supply's terminals and back.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    fittings
        What is on the way, and what it stands.
    """

    def __init__(self, limit_amps: float, fittings: Fittings) -> None:
        self._flows = FLOWS * limit_amps
        self._fittings = fittings
        self._hot: set[str] = set()
        self._is_dense = self._is_outside = False
        self._top_volts: float | None = None
        self._rose_s: float | None = None

    def refit(self, fittings: Fittings) -> None:
        """Go on with the work, the limits and the step of another job card."""
        self._fittings = fittings

    def judge(self, volts: float, amps: float, estimate: Estimate) -> tuple[Finding, ...]:
        """Everything else, in the order of the catalogue."""
        flows = amps >= self._flows
        return (
            *self._judge_heat(amps, estimate),
            self._judge_density(estimate),
            self._judge_connection(amps, flows, estimate),
            self._judge_window(estimate.t_ns * 1e-9, volts, flows),
        )

    def _judge_heat(self, amps: float, estimate: Estimate) -> tuple[Finding, ...]:
        heat, longer = estimate.heat, 2.0 if self._hot else 1.0
        if heat.hottest is None and heat.bath_in_s is None:
            self._hot.clear()
            return NONE_HOT
        words: dict[str, str] = {}
        if (
            heat.hottest is not None
            and heat.share is not None
            and (
                (heat.in_s is not None and heat.in_s <= HEAT_WITHIN_S * longer)
                or heat.share >= 1.0 - 0.05 * longer
            )
        ):
            words[heat.hottest] = say.conductor_hot(heat.hottest, heat.share, heat.in_s, amps)
        if heat.bath_in_s is not None and heat.bath_in_s <= BATH_WITHIN_S * longer:
            words["bath"] = say.bath_hot(self._fittings.most_celsius, heat.bath_in_s)
        if not words:
            self._hot.clear()
            return NONE_HOT
        was_hot, others = bool(self._hot), words.keys() - self._hot
        self._hot |= words.keys()
        found = Finding(AlarmName.OVERHEATING, True, "; ".join(words.values()))
        if was_hot and others:
            # What was acknowledged was the first thing's heat: the next one sounds again.
            return (MORE_IS_HOT, found._replace(at_once=True))
        return (found,)

    def _judge_density(self, estimate: Estimate) -> Finding:
        density, most = estimate.heat.amps_per_dm2, self._fittings.job.most_amps_per_dm2
        if density is None or most is None:
            return NO_DENSITY
        edge = most * (1.0 - DENSITY_BAND) if self._is_dense else most
        self._is_dense = density > edge
        return Finding(AlarmName.DENSITY_HIGH, self._is_dense, say.density_high(density, most))

    def _judge_connection(self, amps: float, flows: bool, estimate: Estimate) -> Finding:
        extra = estimate.extra_ohms
        if extra is not None and not flows:
            return Finding(AlarmName.CONNECTION_RESISTANCE, None, "")
        watts = 0.0 if extra is None else extra * amps * amps
        if extra is None or watts < LEAST_WATTS:
            return CONNECTIONS_HOLD
        leads = self._fittings.leads
        lead_ohms = None if leads is None else leads.ohms()
        words = say.connection_bad(extra, lead_ohms, amps)
        return Finding(AlarmName.CONNECTION_RESISTANCE, True, words)

    def _judge_window(self, t_s: float, volts: float, flows: bool) -> Finding:
        is_rising = self._is_rising(t_s, volts)
        window, step = self._fittings.window, self._fittings.step
        if window is None:
            return NO_WINDOW
        low, high = window.lowest_volts, window.highest_volts
        band = 0.5 * WINDOW_BAND if self._is_outside else WINDOW_BAND
        was_outside = self._is_outside
        is_low = volts < low - band and not is_rising
        self._is_outside = flows and (is_low or volts > high + band)
        if not self._is_outside and not was_outside and flows:
            return INSIDE_WINDOW
        words = say.outside_window(volts, step.name, (low, high))
        return Finding(AlarmName.OUTSIDE_VOLTAGE_WINDOW, self._is_outside, words)

    def _is_rising(self, t_s: float, volts: float) -> bool:
        top = self._top_volts
        if volts < OFF_VOLTS or (top is not None and volts > top + RISE_VOLTS):
            self._top_volts, self._rose_s = volts, t_s
        elif top is None:
            self._top_volts = volts
        return self._rose_s is not None and t_s - self._rose_s < RISING_S
