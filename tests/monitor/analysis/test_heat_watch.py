"""What is warm: the named conductors, the bath on its way to a limit, the part's density."""

import pytest

from monitor.analysis.heat_watch import HeatWatch
from monitor.model.fittings import Conductor, Fittings, Job

SLEEVE = Conductor("sleeve", 8.0, 60.0)
LEAD = Conductor("lead", 20.0, 300.0)


def test_the_conductor_that_is_first_at_its_heat_is_named() -> None:
    watch = HeatWatch(Fittings((LEAD, SLEEVE)))
    for n in range(100):
        watch.update(n * 0.2, 10.0, None)
    assert watch.heat.hottest == "sleeve"
    # tau ln(I^2 / (I^2 - (k Ib)^2)) = 60 ln(100 / 36) from cold (IEC 60255-149), 19 s of it gone.
    assert watch.heat.in_s == pytest.approx(61.3 - 19.0, abs=1.5)


def test_one_that_stands_under_its_heat_is_not_hidden_by_one_with_long_to_go() -> None:
    # At 9.8 A a 10 A sleeve settles at 96 % of its heat; a 9.7 A bar is at its own in 35 min.
    watch = HeatWatch(Fittings((Conductor("bar", 9.7, 600.0), Conductor("sleeve", 10.0, 30.0))))
    for t in range(200):
        watch.update(float(t), 9.8, None)
    assert watch.heat.hottest == "sleeve"
    assert watch.heat.share == pytest.approx(0.96, abs=0.002)
    assert watch.heat.in_s is None


def test_amps_that_come_in_bursts_heat_by_their_square() -> None:
    watch = HeatWatch(Fittings((Conductor("lead", 10.0, 1e6),)))
    for n in range(5001):
        watch.update(n * 0.2, 10.0 if n % 2 else 0.0, None)
    # Half the time at 10 A is 7.07 A of steady current: half the heat.
    assert watch.heat.share == pytest.approx(0.5 * 1000.0 / 1e6, rel=0.01)


def test_below_its_rating_no_time_is_told() -> None:
    watch = HeatWatch(Fittings((SLEEVE,)))
    for n in range(600):
        watch.update(float(n), 7.0, None)
    assert watch.heat.in_s is None
    assert watch.heat.share == pytest.approx((7.0 / 8.0) ** 2, abs=0.01)


def test_the_bath_reaches_its_limit_when_a_straight_line_does() -> None:
    # 0.869 K/min, 120 W into 2 L of 5 % NaOH (3940 J/(kg K), Laliberte 2009): 10 K take 690 s.
    watch = HeatWatch(Fittings(most_celsius=50.0))
    for t in range(180):
        watch.update(float(t), 20.0, 40.0 + 0.869 / 60.0 * t)
    assert watch.heat.bath_in_s == pytest.approx(690.0 - 179.0, rel=0.02)


def test_a_bath_that_does_not_warm_never_gets_there() -> None:
    watch = HeatWatch(Fittings(most_celsius=50.0))
    for t in range(180):
        watch.update(float(t), 20.0, 40.0)
    assert watch.heat.bath_in_s is None
    watch.update(181.0, 20.0, 51.0)
    assert watch.heat.bath_in_s == 0.0


def test_density_is_amps_over_area() -> None:
    watch = HeatWatch(Fittings(job=Job(area_dm2=4.0)))
    for t in range(5):
        watch.update(float(t), 10.0, None)
    assert watch.heat.amps_per_dm2 == pytest.approx(2.5)


def test_without_anything_named_nothing_is_said() -> None:
    watch = HeatWatch(Fittings())
    for t in range(5):
        watch.update(float(t), 10.0, 30.0)
    assert watch.heat.hottest is None
    assert watch.heat.amps_per_dm2 is None


def test_a_long_silence_neither_heats_nor_cools_for_ever() -> None:
    watch = HeatWatch(Fittings((SLEEVE,)))
    for t in range(60):
        watch.update(float(t), 7.0, None)
    before = watch.heat.share
    watch.update(3600.0, 7.0, None)
    assert before is not None
    assert watch.heat.share == pytest.approx(before, abs=0.1)
