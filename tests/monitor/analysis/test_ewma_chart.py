"""The rival for the end of a strip against the handbook's example and the published run lengths."""

import math
from random import Random

import pytest

from benchmarks.ewma_chart import EwmaChart
from tests.monitor.analysis.run_length import ewma_run

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: weight 0.3, start 50, sd 2.0539, L 3.
DATA = (52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
        51.2, 52.6, 52.4, 53.6, 52.1)  # fmt: skip
AVERAGES = (50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36,
            49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99)  # fmt: skip


def test_the_handbooks_example_is_reproduced() -> None:
    chart = EwmaChart(50.0, 2.0539, 0.3, 3.0)
    signals, averages = [], []
    for value in DATA:
        signals.append(chart.update(value))
        averages.append(chart.average)
    assert averages == pytest.approx(AVERAGES, abs=0.006)
    # The handbook prints the lower limit cut off, not rounded: 47.4115.
    assert (chart.upper, chart.lower) == pytest.approx((52.5884, 47.4115), abs=1e-3)
    assert signals == [0] * 20


SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
# Lucas & Saccucci 1990, table 3, as the manual of R's package spc prints it.
PUBLISHED = {
    (0.5, 3.071): (500, 255, 88.8, 35.9, 17.5, 6.53, 3.63, 2.50, 1.93, 1.34, 1.07),
    (0.03, 2.437): (500, 76.7, 29.3, 17.6, 12.6, 8.07, 5.99, 4.80, 4.03, 3.11, 2.55),
}


@pytest.mark.parametrize(
    ("weight", "limit", "shift", "run"),
    [
        (weight, limit, shift, run)
        for (weight, limit), runs in PUBLISHED.items()
        for shift, run in zip(SHIFTS, runs, strict=True)
    ],
)
def test_the_reference_has_the_published_run_lengths(
    weight: float, limit: float, shift: float, run: float
) -> None:
    assert ewma_run(weight, limit, shift) == pytest.approx(run, rel=0.004)


def test_the_reference_has_the_other_published_anchors() -> None:
    # The manual of SAS/QC: weight 0.25, L 3, shift 1. Crowder, Technometrics 29 (1987): 0.5, 2.
    assert ewma_run(0.25, 3.0, 1.0) == pytest.approx(11.154267016, abs=1e-6)
    crowder = [ewma_run(0.5, 2.0, shift) for shift in (0.0, 0.5, 1.0, 2.0)]
    assert crowder == pytest.approx([26.45, 11.89, 4.91, 1.95], abs=0.011)


@pytest.mark.parametrize(("shift", "runs"), [(0.0, 400), (0.5, 2000), (1.0, 4000)])
def test_the_chart_waits_as_long_as_the_tables_say(shift: float, runs: int) -> None:
    draw, total = Random(f"ewma/{shift}"), 0
    for _ in range(runs):
        chart, n, signal = EwmaChart(0.0, 1.0, 0.3, 3.0), 0, 0
        while signal == 0:
            signal = chart.update(draw.gauss(shift, 1.0))
            n += 1
        total += n
    expected = ewma_run(0.3, 3.0, shift)
    assert total / runs == pytest.approx(expected, rel=4.0 / math.sqrt(runs))
