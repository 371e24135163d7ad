"""How long a cut-out that goes by time waits, by the published curves, and what is said of it.

Curves t = TMS (k / ((I / Is)^a - 1) + c) of IEC 60255-151:2009, annex A, as three protection-relay
manuals print them. A supply's cut-out need not follow any of them.
"""

import math
from dataclasses import replace

import pytest

from monitor.analysis.cause.cause import THERMAL_S, cause_of
from monitor.model.explanation import Cause
from tests.monitor.analysis.cause.test_cause import RISE

# k, a, c
CURVES = {
    "IEC normal inverse": (0.14, 0.02, 0.0),
    "IEC very inverse": (13.5, 1.0, 0.0),
    "IEC extremely inverse": (80.0, 2.0, 0.0),
    "IEC long time": (120.0, 1.0, 0.0),
    "IEC short time": (0.05, 0.04, 0.0),
    "IEEE moderately inverse": (0.0515, 0.02, 0.114),
    "IEEE very inverse": (19.61, 2.0, 0.491),
    "IEEE extremely inverse": (28.2, 2.0, 0.1217),
}


def waits_s(curve: str, times: float) -> float:
    """Seconds at TMS 1; for ever at the setting and under it."""
    k, a, c = CURVES[curve]
    return math.inf if times <= 1.0 else k / (times**a - 1.0) + c


@pytest.mark.parametrize(
    ("curve", "times", "seconds"),
    [
        ("IEC normal inverse", 1.5, 17.194),
        ("IEC normal inverse", 2.0, 10.029),
        ("IEC normal inverse", 5.0, 4.2797),
        ("IEC normal inverse", 10.0, 2.9706),
        ("IEC very inverse", 2.0, 13.5),
        ("IEC very inverse", 10.0, 1.5),
        ("IEC extremely inverse", 1.5, 64.0),
        ("IEC extremely inverse", 2.0, 26.667),
        ("IEC extremely inverse", 10.0, 0.80808),
        ("IEEE extremely inverse", 2.0, 9.5217),
        ("IEEE extremely inverse", 10.0, 0.4065),
    ],
)
def test_the_curves_give_their_worked_values(curve: str, times: float, seconds: float) -> None:
    assert waits_s(curve, times) == pytest.approx(seconds, rel=1e-4, abs=6e-5)


@pytest.mark.parametrize("curve", CURVES)
def test_at_the_few_per_cent_of_a_slow_rise_every_curve_waits_long(curve: str) -> None:
    """So a cut-out long after the limit was passed goes by heat or by such a time."""
    assert waits_s(curve, 1.0) == math.inf
    over_s = waits_s(curve, 1.03)
    assert over_s > THERMAL_S
    cause, sentence = cause_of(replace(RISE, over_s=over_s, peak_amps=1.03 * RISE.limit_amps))
    assert cause is Cause.HEAT
    assert "waits longer the smaller the overload" in sentence
