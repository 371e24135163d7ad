"""The alarms of the circuit: heat, current density, contacts."""

from monitor.alarms.volts_conditions import volts_for
from monitor.analysis.drop import Drop
from monitor.model.alarm import AlarmName
from monitor.model.estimate import NOT_WATCHED, Estimate
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.text import alarm_messages as say

HEAT_WITHIN_S = 120.0
"""A conductor that is at its heat within this is told; one that needs twice as long, no more."""
BATH_WITHIN_S = 300.0
DENSITY_BAND = 0.05
"""Dead-band of the density, a share of its limit."""
RATED_SHARE = 0.95
"""Amps to turn down to, as a share of what the hot conductor carries for ever."""
LEAST_WATTS = 3.0
"""What a clip may turn into heat before it is told (common practice, no source)."""
LOOSE_TIMES = 2
"""Steps down of the amps from one level: between two they have come back by themselves."""
LOOSE_S = 300.0
"""A loose connection is told for so long after its last step."""

NOTHING_HOT = Finding(AlarmName.OVERHEATING, False, say.NOTHING_HOT)
NONE_HOT = (NOTHING_HOT,)
MORE_IS_HOT = Finding(AlarmName.OVERHEATING, False, say.MORE_IS_HOT, at_once=True)
NO_DENSITY = Finding(AlarmName.DENSITY_HIGH, False, say.NO_DENSITY)
CONNECTIONS_HOLD = Finding(AlarmName.CONNECTION_RESISTANCE, False, say.CONNECTIONS_HOLD)
QUIET = (NOTHING_HOT, NO_DENSITY, CONNECTIONS_HOLD)


class CircuitConditions:
    """Judges what the amps do on their way from the supply's terminals and back.

    Parameters
    ----------
    fittings
        What is on the way, and what it stands.
    """

    def __init__(self, fittings: Fittings) -> None:
        self._fittings = fittings
        self._rated = {
            conductor.name: conductor.rated_amps * conductor.k for conductor in fittings.heated
        }
        self._hot: set[str] = set()
        self._is_dense = False
        self._loose: Drop | None = None

    def refit(self, fittings: Fittings) -> None:
        """Go on with the work, the limits and the step of another job card."""
        self._fittings = fittings

    def judge(
        self, volts: float, amps: float, estimate: Estimate, drop: Drop | None = None
    ) -> tuple[Finding, ...]:
        """All of them, in the order of the catalogue; `drop` is a step of the amps just seen."""
        if estimate.heat is NOT_WATCHED and drop is None and self._loose is None:
            return QUIET
        return (
            *self._judge_heat(volts, amps, estimate),
            self._judge_density(estimate),
            self._judge_connection(estimate, drop),
        )

    def _judge_heat(self, volts: float, amps: float, estimate: Estimate) -> tuple[Finding, ...]:
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
        action = self._turn_down(volts, amps, estimate) if heat.hottest in words else ""
        finding = Finding(AlarmName.OVERHEATING, True, "; ".join(words.values()), action=action)
        if was_hot and others:
            # What was acknowledged was the first thing's heat: the next one sounds again.
            return (MORE_IS_HOT, finding._replace(at_once=True))
        return (finding,)

    def _judge_density(self, estimate: Estimate) -> Finding:
        density, most = estimate.heat.amps_per_dm2, self._fittings.job.most_amps_per_dm2
        if density is None or most is None:
            return NO_DENSITY
        edge = most * (1.0 - DENSITY_BAND) if self._is_dense else most
        self._is_dense = density > edge
        return Finding(AlarmName.DENSITY_HIGH, self._is_dense, say.density_high(density, most))

    def _turn_down(self, volts: float, amps: float, estimate: Estimate) -> str:
        """The volts at which the hot conductor carries what it can for ever; "" where they do."""
        aim_amps = RATED_SHARE * self._rated.get(estimate.heat.hottest or "", 0.0)
        if not 0.0 < aim_amps < amps:
            return ""
        return say.off_or_down_to(volts_for(aim_amps, volts, amps, estimate.polarisation_volts))

    def _judge_connection(self, estimate: Estimate, drop: Drop | None) -> Finding:
        if drop is not None and drop.times >= LOOSE_TIMES:
            self._loose = drop
        loose = self._loose
        if loose is None or estimate.t_s - loose.t_s > LOOSE_S:
            self._loose = None
            return CONNECTIONS_HOLD
        watts = loose.watts(estimate.polarisation_volts or 0.0)
        if watts < LEAST_WATTS:
            return CONNECTIONS_HOLD
        words = say.connection_loose(loose.times, loose.from_amps, loose.to_amps, watts)
        return Finding(AlarmName.CONNECTION_RESISTANCE, True, words)
