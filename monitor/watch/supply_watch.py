"""Questions to the operator about supply, meters, settings and contacts.

Each is asked once a run, but those about the knob and the contacts: they are asked of each
occurrence.
"""

from collections.abc import Collection

from monitor.alarms.circuit_conditions import LEAST_WATTS
from monitor.alarms.conditions import Conditions
from monitor.analysis.chain import Chain
from monitor.analysis.holding import Holding
from monitor.analysis.meter import STEPS_SEEN
from monitor.model.estimate import Estimate
from monitor.model.event import Prompt, PromptName
from monitor.model.fittings import Fittings
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, Sample
from monitor.text import prompts as say

HELD_S = 1.0
"""A supply that settles to a new load may look for moments as if it held the current."""
CHANGES_OUTSIDE = 3
"""Changes of the volts in a row whose pairs lie outside what so many cells can have."""
_TOO_COARSE = PromptName.METER_TOO_COARSE
EACH_TIME = (PromptName.WAS_THAT_YOU, PromptName.RESISTANCE_JUMPED)
SLOW_AFTER_S = 120.0
"""A step that the end's watch sees is the same that was asked about so shortly before."""


class SupplyWatch:
    """Watches one run.

    Parameters
    ----------
    limit_kind
        What the settings say that the supply does at its limit.
    """

    def __init__(self, limit_kind: LimitKind, fittings: Fittings) -> None:
        self._trips = limit_kind is LimitKind.TRIPS
        self._asked: set[PromptName] = set()
        self._is_begun = False
        self._held_s: float | None = None
        self._extra_ohms: float | None = None
        self._jumped_s = -SLOW_AFTER_S
        if fittings.heated:
            self._asked.add(PromptName.HEAT_NOT_WATCHED)

    def have_asked(self, names: Collection[str]) -> None:
        """Pass over what a run was told before it was interrupted."""
        self._is_begun = True
        self._asked |= {name for name in PromptName if name in names and name not in EACH_TIME}

    def update(
        self, row: Sample | Gap, estimate: Estimate, chain: Chain, conditions: Conditions
    ) -> list[Prompt]:
        """Take the next row, after the estimators and the conditions took it."""
        asked: list[tuple[PromptName, str]] = []
        if not self._is_begun:
            self._is_begun = True
            asked.append((PromptName.HEAT_NOT_WATCHED, say.HEAT_NOT_WATCHED))
        if isinstance(row, Sample):
            if chain.holding.is_held or self._held_s is not None:
                asked += self._ask_of_limit(row.t_s, chain.holding, conditions)
            least_rise_amps = conditions.meter.least_rise_amps
            if least_rise_amps is not None and _TOO_COARSE not in self._asked:
                words = say.meter_too_coarse(least_rise_amps / STEPS_SEEN, least_rise_amps)
                asked.append((_TOO_COARSE, words))
            if chain.polarisation.outside >= CHANGES_OUTSIDE:
                volts = chain.polarisation.outside_volts or 0.0
                asked.append((PromptName.CHECK_CELLS, say.check_cells(volts, conditions.cells)))
            move, drop = conditions.current.knob_move, conditions.current.drop
            if move is not None:
                asked.append(
                    (PromptName.WAS_THAT_YOU, say.was_that_you(move.from_volts, move.to_volts))
                )
            if drop is not None:
                self._jumped_s = row.t_s
                words = say.resistance_jumped(drop.from_amps, drop.to_amps, drop.volts)
                asked.append((PromptName.RESISTANCE_JUMPED, words))
            if estimate.extra_ohms != self._extra_ohms:
                asked += self._ask_of_a_slow_step(row.t_s, row.amps or 0.0, estimate.extra_ohms)
        if not asked:
            return []
        new = [question for question in asked if question[0] not in self._asked]
        self._asked |= {name for name, _ in new if name not in EACH_TIME}
        return [Prompt(name, row.seq, row.t_ns, words) for name, words in new]

    def _ask_of_limit(
        self, t_s: float, holding: Holding, conditions: Conditions
    ) -> list[tuple[PromptName, str]]:
        if not (self._trips and holding.is_held and holding.is_near) or conditions.short:
            self._held_s = None
            return []
        if self._held_s is None:
            self._held_s = t_s
        if t_s - self._held_s < HELD_S:
            return []
        return [(PromptName.CHECK_SETTING, say.check_setting(holding.amps))]

    def _ask_of_a_slow_step(
        self, t_s: float, amps: float, extra_ohms: float | None
    ) -> list[tuple[PromptName, str]]:
        """A smaller step, seen by the watch for the end; not one that was asked about already."""
        more_ohms = (extra_ohms or 0.0) - (self._extra_ohms or 0.0)
        self._extra_ohms = extra_ohms
        watts = more_ohms * amps * amps
        if watts < LEAST_WATTS or t_s - self._jumped_s < SLOW_AFTER_S:
            return []
        self._jumped_s = t_s
        return [(PromptName.RESISTANCE_JUMPED, say.resistance_crept(1000.0 * more_ohms, watts))]
