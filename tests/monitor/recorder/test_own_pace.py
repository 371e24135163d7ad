"""A supply that speaks by itself is polled no more often than it speaks."""

from typing import cast

import pytest

from drivers.driver import Driver
from monitor.model.run import LimitKind, RunFacts
from monitor.recorder.plan import SupplyPlan, at_own_pace


class Speaks:
    """As much of a driver as its pace."""

    def __init__(self, every_s: float) -> None:
        self.every_s = every_s


def plan(poll_s: float, clock_speed: float = 1.0) -> SupplyPlan:
    facts = RunFacts(
        supply="bench-1",
        address="lines:/dev/null",
        limit_amps=10.0,
        limit_kind=LimitKind.TRIPS,
        bath="",
        bath_litres=None,
        poll_s=poll_s,
        horizon_s=60.0,
        clock_speed=clock_speed,
    )
    return SupplyPlan(facts)


@pytest.mark.parametrize(
    ("every_s", "speed", "poll_s", "no_data_s"),
    [(0.1, 1.0, 1.0, 5.0), (5.0, 1.0, 5.25, 15.0), (0.5, 10.0, 5.25, 15.0)],
)
def test_it_is_polled_at_its_own_pace(
    every_s: float, speed: float, poll_s: float, no_data_s: float
) -> None:
    own = at_own_pace(plan(1.0, speed), cast(Driver, Speaks(every_s)))
    assert own.facts.poll_s == pytest.approx(poll_s)
    assert own.no_data_after_s == pytest.approx(no_data_s)


def test_one_that_is_asked_is_polled_as_it_was_planned() -> None:
    asked = plan(1.0)
    assert at_own_pace(asked, cast(Driver, object())) is asked
