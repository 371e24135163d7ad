"""The planned supplies, each asked once before its run begins."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from drivers.address import parse_address
from drivers.base.clock import Clock
from drivers.driver import Driver, DriverSetUp
from drivers.errors import DriverError
from drivers.paired import open_supply
from drivers.reading import Identity
from monitor.base.errors import BathvigilError
from monitor.recorder.plan import SupplyPlan, at_own_pace


@dataclass(slots=True)
class ReachedSupply:
    """A planned supply, its driver, and who answered or what failed."""

    plan: SupplyPlan
    driver: Driver
    identity: Identity | None
    failure: DriverError | None


def reach_supplies(
    plans: Sequence[SupplyPlan], clock: Clock, keep_trying: bool, complain: Callable[[str], None]
) -> list[ReachedSupply]:
    """Open each supply's link and ask who answers.

    Parameters
    ----------
    keep_trying
        True goes on though none answers.
    complain
        Called with a sentence for each that does not answer.

    Raises
    ------
    BathvigilError
        None answers.
    """
    supplies = []
    for plan in plans:
        address = parse_address(plan.facts.address)
        set_up = DriverSetUp(address, clock, plan.timeout_s, plan.description)
        driver = open_supply(set_up, plan.amps)
        supply = ReachedSupply(at_own_pace(plan, driver), driver, None, None)
        try:
            supply.identity = supply.driver.open()
        except DriverError as failure:
            supply.driver.close()
            supply.failure = failure
        supplies.append(supply)
    failures = [supply.failure for supply in supplies if supply.failure is not None]
    if len(failures) == len(supplies) and not keep_trying:
        raise BathvigilError(f"{failures[0]} (--keep-trying starts anyway)")
    for unreached in failures:
        complain(f"{unreached}; it is tried again")
    return supplies
