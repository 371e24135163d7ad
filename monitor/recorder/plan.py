"""What to record: one supply, from bench.toml or straight from the command line."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from drivers.base.timeout import TIMEOUT_S
from drivers.driver import Driver
from drivers.paired import AmpsSource
from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.model.fittings import Fittings
from monitor.model.run import RunFacts


@dataclass(frozen=True, slots=True)
class SupplyPlan:
    """How one supply is to be asked and watched.

    Parameters
    ----------
    facts
        What the run will hold of it.
    timeout_s
        Longest wait for one answer, seconds of real time.
    description
        Name or path of the supply's description; None for the driver's default.
    amps
        The instrument that reads the amps; None where one reads both.
    no_data_after_s
        Seconds without a good sample before `no-data`.
    per_kelvin
        The bath's own temperature coefficient of conductance, 1/K.
    fittings
        What the amps go through, and may do there.
    out_of_service
        Alarms that are judged no more, each with the reason.
    """

    facts: RunFacts
    timeout_s: float = TIMEOUT_S
    description: str | None = None
    amps: AmpsSource | None = None
    no_data_after_s: float = 5.0
    per_kelvin: float = CAUSTIC_PER_KELVIN
    fittings: Fittings = field(default_factory=Fittings)
    out_of_service: Mapping[str, str] = field(default_factory=dict)


SLOWER_SHARE = 1.05
"""A talker is polled this much more slowly than it speaks: each poll then finds a new line."""
PERIODS_WITHOUT = 3.0


def at_own_pace(plan: SupplyPlan, driver: Driver) -> SupplyPlan:
    """The plan with the pace of a supply that speaks by itself, more slowly than the polls.

    Only as often as it speaks is there anything to ask for; `no-data` waits for three of its lines.
    """
    every_s = getattr(driver, "every_s", None)
    if not isinstance(every_s, float):
        return plan
    run_s = every_s * plan.facts.clock_speed
    return replace(
        plan,
        facts=replace(plan.facts, poll_s=max(plan.facts.poll_s, SLOWER_SHARE * run_s)),
        no_data_after_s=max(plan.no_data_after_s, PERIODS_WITHOUT * run_s),
    )
