"""The cumulative sum against the handbook's worked example and the published run lengths."""

import math
from random import Random

import pytest

from monitor.analysis.cusum import Cusum
from tests.monitor.analysis.run_length import cusum_run, siegmund_run, two_sided

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3: twenty group means, target 325,
# standard deviation of a mean 0.635, k 0.3175 and h 4.1959 in the data's own unit.
MEANS = (
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
)  # fmt: skip
HIGH = (0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445,
        16.0025, 19.035)  # fmt: skip
LOW = (0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.7150, 0.1725, 0.2550, 0.3125, 0)


def test_the_handbooks_example_is_reproduced() -> None:
    cusum, highs, lows, signals = Cusum(0.3175, 4.1959), [], [], []
    for group, mean in enumerate(MEANS, 1):
        if cusum.update(mean - 325.0) > 0:
            signals.append(group)
        highs.append(cusum.high)
        lows.append(cusum.low)
    assert highs == pytest.approx(HIGH, abs=1e-9)
    assert lows[: len(LOW)] == pytest.approx(LOW, abs=1e-9)
    # Group 14 is the first over h, and all after it are.
    assert signals == list(range(14, 21))
    # The sum began to rise with group 13.
    assert cusum.rising_for == 8
    assert sum(mean - 325.0 for mean in MEANS) == pytest.approx(19.075)


SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
# Lucas & Crosier, Technometrics 24 (1982), table 1: two-sided, k 0.5, h 4; as the manual of R's
# package spc prints it.
LUCAS_CROSIER = (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31)


@pytest.mark.parametrize(("shift", "run"), list(zip(SHIFTS, LUCAS_CROSIER, strict=True)))
def test_the_reference_has_the_published_run_lengths(shift: float, run: float) -> None:
    up, down = cusum_run(0.5, 4.0, shift), cusum_run(0.5, 4.0, -shift)
    assert two_sided(up, down) == pytest.approx(run, rel=0.005)


# One-sided anchors: Brook & Evans 1972 (h 3), Waldmann 1986 (h 3), SAS/QC's manual 1999.
@pytest.mark.parametrize(
    ("k", "h", "shift", "run", "error"),
    [
        (0.5, 3.0, 0.0, 117.59, 0.01),
        (0.5, 3.0, 1.5, 3.75, 0.005),
        (0.5, 3.0, -0.5, 1963.0, 1.0),
        (0.5, 3.0, 0.5, 17.35, 0.005),
        (0.25, 8.0, 2.5, 4.1500836225, 2e-6),
        # Computed by this equation with 120 nodes; the handbook's own table is not used, since
        # what is remembered of it mixes one-sided and two-sided values.
        (0.5, 4.0, 0.0, 335.37, 0.01),
        (0.5, 5.0, 0.0, 930.89, 0.01),
        (0.5, 5.0, 0.5, 38.01, 0.005),
        (0.5, 5.0, 1.0, 10.38, 0.005),
    ],
)
def test_the_reference_has_the_published_anchors(
    k: float, h: float, shift: float, run: float, error: float
) -> None:
    assert cusum_run(k, h, shift) == pytest.approx(run, abs=error)


def test_a_head_start_shortens_the_reference_as_published() -> None:
    # SAS/QC 1999: k 0.25, h 8, shift 2.5, head start 0.1.
    assert cusum_run(0.25, 8.0, 2.5, head=0.1) == pytest.approx(4.1061588131, abs=2e-6)


def mean_run(k: float, h: float, shift: float, runs: int, keep: float = 0.0) -> float:
    """Of the product's own class on drawn values; `keep` is their correlation (0: independent)."""
    draw, total = Random(f"{k}/{h}/{shift}/{keep}"), 0
    kick = math.sqrt(1.0 - keep * keep)
    for _ in range(runs):
        cusum, value, n = Cusum(k, h), draw.gauss(0.0, 1.0), 0
        signal = 0
        while signal <= 0:
            signal = cusum.update(value + shift)
            value = keep * value + kick * draw.gauss(0.0, 1.0)
            n += 1
        total += n
    return total / runs


def test_ten_values_tell_a_move_of_one_standard_deviation() -> None:
    # 10.38 by the integral equation; 20 000 runs know the mean to about 0.04.
    assert mean_run(0.5, 5.0, 1.0, 20_000) == pytest.approx(10.38, abs=0.1)


@pytest.mark.parametrize(
    ("h", "shift", "runs"), [(4.0, 0.0, 800), (4.0, 0.5, 3000), (4.0, 2.0, 5000), (5.0, 3.0, 5000)]
)
def test_the_product_waits_as_long_as_the_tables_say(h: float, shift: float, runs: int) -> None:
    expected = cusum_run(0.5, h, shift)
    # Run lengths scatter about as much as their mean.
    assert mean_run(0.5, h, shift, runs) == pytest.approx(expected, rel=4.0 / math.sqrt(runs))


@pytest.mark.parametrize("h", [4.0, 5.0])
@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_siegmunds_approximation_holds_within_a_per_cent(h: float, shift: float) -> None:
    # Siegmund 1985 (formula from memory); 338.1 and 938.2 without a shift.
    assert siegmund_run(0.5, h, shift) == pytest.approx(cusum_run(0.5, h, shift), rel=0.01)


def test_siegmunds_approximation_is_four_per_cent_short_at_two_deviations() -> None:
    assert siegmund_run(0.5, 4.0, 0.0) == pytest.approx(338.1, abs=0.05)
    assert siegmund_run(0.5, 5.0, 0.0) == pytest.approx(938.2, abs=0.05)
    assert siegmund_run(0.5, 4.0, 2.0) / cusum_run(0.5, 4.0, 2.0) == pytest.approx(0.96, abs=0.01)


def test_values_that_follow_each_other_make_false_alarms_more_frequent() -> None:
    """The tables hold for independent values only; so the product does not promise their rate."""
    assert mean_run(0.5, 5.0, 0.0, 200, keep=0.5) < 0.2 * cusum_run(0.5, 5.0, 0.0)


def test_a_fall_is_told_as_a_rise_of_the_other_sign() -> None:
    up, down = Cusum(0.5, 4.0), Cusum(0.5, 4.0)
    draw = Random(2)
    for _ in range(500):
        z = draw.gauss(0.3, 1.0)
        assert up.update(z) == -down.update(-z)
        assert (up.high, up.rising_for) == (down.low, down.falling_for)
    up.restart()
    assert (up.high, up.low, up.rising_for) == (0.0, 0.0, 0)
