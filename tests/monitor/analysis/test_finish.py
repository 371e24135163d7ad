"""The end of a strip: told both ways, once, after enough charge; and not where it is none.

That the end is a change of volts or amps: ASTM B764 and ISO 2177 (their titles and scopes). The
way the amps go at constant volts in an alkaline bath is published nowhere, so both are tried.
"""

import math
import random
from collections.abc import Callable

import pytest

from monitor.analysis.finish import Finish, FinishWatch

AMPS = 5.0


def finishes(
    course: Callable[[float], float],
    seconds: int,
    wander: float = 0.0,
    seed: int = 1,
    least_amp_hours: float | None = None,
) -> list[Finish]:
    """What is found in a run of one value a second at 5 A."""
    watch, draw, slow, found = FinishWatch(least_amp_hours), random.Random(seed), 0.0, []
    for t in range(seconds):
        slow = 0.967 * slow + wander * 0.254 * draw.gauss(0.0, 1.0)
        finish = watch.update(float(t), course(t) + slow, t * AMPS / 3600.0, max(wander, 0.001))
        if finish is not None:
            found.append(finish)
    return found


def to(change: float, at_s: float, over_s: float, slope: float = 0.0) -> Callable[[float], float]:
    """A change within some time, on a slow rise."""
    return lambda t_s: slope * t_s + change * min(max((t_s - at_s) / over_s, 0.0), 1.0)


@pytest.mark.parametrize("change", [-0.14, -0.07, 0.08, 0.14])
@pytest.mark.parametrize("slope", [0.0, 0.01 / 60.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_end_is_told_either_way_when_it_has_levelled_off(
    change: float, slope: float, seed: int
) -> None:
    found = finishes(to(change, 400.0, 50.0, slope), 700, wander=0.004, seed=seed)
    assert len(found) == 1
    assert 440.0 <= found[0].t_s <= 490.0
    assert found[0].change == pytest.approx(change, abs=0.02)


def test_a_short_strip_is_not_finished_before_it_began() -> None:
    # The change takes longer than half of what lies before it.
    assert finishes(to(-0.12, 40.0, 50.0), 300) == []


@pytest.mark.parametrize("guide", [1.0, 0.3, None])
def test_faradays_charge_is_a_guide_beside_the_end_and_never_forbids_it(
    guide: float | None,
) -> None:
    # 5 A for 440 s are 0.61 Ah. A class of thickness is a minimum and its deposit may flake
    # (ISO 1456, ASTM B456), so 1 Ah by Faraday proves nothing against what is seen.
    (found,) = finishes(to(-0.12, 400.0, 50.0), 700, least_amp_hours=guide)
    assert found.guide_amp_hours == guide


def test_with_faradays_charge_passed_an_early_end_is_told() -> None:
    # 5 A for 60 s are 0.08 Ah: enough for 0.05; without a guide too little for so slow a change.
    assert len(finishes(to(-0.12, 60.0, 50.0), 300, least_amp_hours=0.05)) == 1
    assert finishes(to(-0.12, 60.0, 50.0), 300) == []


@pytest.mark.parametrize("change", [-0.2, -0.05, 0.1])
def test_a_contact_that_jumps_is_not_the_end(change: float) -> None:
    assert finishes(to(change, 400.0, 1.0), 700, wander=0.003) == []


@pytest.mark.parametrize("seed", range(1, 9))
def test_a_bath_that_wanders_for_an_hour_is_not_finished(seed: int) -> None:
    assert finishes(lambda t_s: 0.0, 3600, wander=0.01, seed=seed) == []


@pytest.mark.parametrize("time_s", [60.0, 120.0, 300.0])
def test_a_bath_that_warms_and_settles_is_not_finished(time_s: float) -> None:
    assert finishes(lambda t_s: 0.15 * (1.0 - math.exp(-t_s / time_s)), 1800, wander=0.004) == []


def test_a_slow_decline_of_the_leads_is_not_the_end() -> None:
    assert finishes(lambda t_s: -0.015 / 60.0 * t_s, 1800, wander=0.004) == []


def test_each_part_of_a_series_has_its_own_end() -> None:
    def course(t_s: float) -> float:
        return to(-0.1, 400.0, 50.0)(t_s) if t_s < 600.0 else to(-0.1, 1000.0, 50.0)(t_s)

    watch, found = FinishWatch(), []
    for t in range(1200):
        if t == 600:
            watch.restart()
        finish = watch.update(float(t), course(t), t * AMPS / 3600.0, 0.003)
        if finish is not None:
            found.append(finish.t_s)
    assert len(found) == 2
    assert 440.0 < found[0] < 490.0
    assert 1040.0 < found[1] < 1090.0


def test_what_is_kept_does_not_grow() -> None:
    watch = FinishWatch()
    for t in range(20_000):
        watch.update(float(t), 0.0, t / 3600.0, 0.003)
    assert max(len(values) for values in (watch._ts, watch._xs, watch._slopes)) <= 80
