"""The rise of the conductance, split into warming and the rest, against truth and published values.

Nothing here states a chemical cause: chromate in a caustic bath lowers the conductance, and the
split only says what the temperature explains.
"""

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from monitor.analysis.chain import Chain
from monitor.model.alarm import AlarmName
from monitor.model.estimate import Estimate
from monitor.model.event import ONLY_SAID
from monitor.model.faraday import grams_per_amp_hour
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.watch.vigil import Vigil
from simulators.rig import Rig
from simulators.scene import load_scene
from tests.monitor.analysis.traces import sample
from tests.monitor.analysis.watching import watch

POLL_S = 0.5
LIMIT_AMPS = 20.0
VOLTS = 6.0
E0 = 1.8


def at_s(name: str, end_s: float, probe: bool, litres: float | None) -> tuple[Estimate, float]:
    """The estimate at a time of a scene, and what warming truly did to the conductance by then."""
    scene = load_scene(name)
    scene = replace(scene, bath=replace(scene.bath, probe=probe))
    rig = Rig(scene, 3)
    chain = Chain(scene.supply.limit_amps, poll_s=POLL_S, bath_litres=litres)
    start = None
    for n in range(int(end_s / POLL_S)):
        rig.advance_to(n * POLL_S)
        point = rig.measured()
        estimate = chain.update(sample(n, n * POLL_S, point.volts, point.amps, point.celsius))
        if start is None and estimate.siemens_at_start is not None:
            start = rig.cell.celsius
    assert start is not None
    alpha = scene.bath.alpha_per_kelvin
    truth = (1 + alpha * (rig.cell.celsius - 25)) / (1 + alpha * (start - 25)) - 1
    return estimate, truth


@pytest.mark.parametrize(("probe", "litres"), [(True, None), (True, 9.0), (False, 9.0)])
def test_warming_of_a_tank_is_told_as_it_truly_was(probe: bool, litres: float | None) -> None:
    estimate, truth = at_s("tank-warms-to-trip", 700.0, probe, litres)
    assert truth > 0.05
    assert estimate.warming_rise is not None
    # Without a probe the balance takes all power as heat, an upper bound: up to a third more.
    assert truth - 0.01 < estimate.warming_rise < truth * (1.02 if probe else 1.4) + 0.01


def test_what_is_not_warming_is_told_as_the_rest() -> None:
    # The scene's bath takes up 0.8 % of conductance per ampere-hour beside warming.
    estimate, _ = at_s("tank-warms-to-trip", 700.0, True, 9.0)
    assert estimate.other_rise == pytest.approx(
        0.008 * estimate.charge.amp_hours + 0.86 * 0.0006, abs=0.015
    )


def test_without_a_temperature_nothing_is_split() -> None:
    estimate, _ = at_s("tank-warms-to-trip", 300.0, False, None)
    assert estimate.warming_rise is None
    assert estimate.other_rise is None
    assert estimate.siemens_at_25 is None


def test_referred_to_25_a_bath_that_only_warms_does_not_change() -> None:
    chain = Chain(100.0, poll_s=1.0)
    for t in range(900):
        celsius = 20.0 + t / 60.0
        amps = 2.0 * (1 + 0.0175 * (celsius - 25.0)) * (VOLTS - E0)
        estimate = chain.update(sample(t, float(t), VOLTS, amps, celsius))
        if t > 120:
            assert estimate.siemens_at_25 == pytest.approx(2.0, rel=0.01)


# PHREEQC (phreeqc.dat, chromate with the CRC Handbook's diffusion coefficient), 50 g NaOH per kg
# water at 25 C: chromium dissolved, g/kg, and conductivity, mS/cm. No make-up of caustic.
CHROMATE = ((0.0, 218.4), (1.0, 210.4), (2.0, 202.9), (5.0, 182.8), (10.0, 155.8), (20.0, 118.8))


def conductivity(grams: float) -> float:
    """Straight lines between the points of the table."""
    for (low, at_low), (high, at_high) in pairwise(CHROMATE):
        if grams <= high:
            return at_low + (at_high - at_low) * (grams - low) / (high - low)
    return CHROMATE[-1][1]


def loaded(kelvin_per_minute: float, start_amps: float) -> list[Sample]:
    """Half a litre that takes up chromium by Faraday's law, and warms or not; up to its trip."""
    rows, grams, kilograms = [], 0.0, 0.5
    noise = (0.4, -1.0, 0.8, -0.3, 1.0, -0.9)
    for n in range(int(1800.0 / POLL_S)):
        t_s = n * POLL_S
        celsius = 25.0 + kelvin_per_minute / 60.0 * t_s
        siemens = start_amps / (VOLTS - E0) * conductivity(grams / kilograms) / 218.4
        # 1.75 %/K of 5 % NaOH: McCleskey, J. Chem. Eng. Data 56 (2011) 317.
        amps = siemens * (1.0 + 0.0175 * (celsius - 25.0)) * (VOLTS - E0)
        if amps > LIMIT_AMPS:
            break
        rows.append(sample(n, t_s, VOLTS, amps * (1.0 + 0.001 * noise[n % 6]), round(celsius, 2)))
        # 30 % of the current dissolves chromium, six electrons (0.32334 g/Ah; CODATA 2018).
        grams += 0.3 * grams_per_amp_hour(51.9961, 6) * amps * POLL_S / 3600.0
    return rows


def test_chromate_alone_in_a_caustic_bath_predicts_no_trip() -> None:
    watched = watch(loaded(0.0, 19.0), Chain(LIMIT_AMPS, poll_s=POLL_S))
    assert watched.raised_s == []
    last = watched.estimates[-1]
    assert last.forecast.trip_in_s is None
    assert last.rise_since_start is not None
    assert last.rise_since_start < -0.02
    assert last.warming_rise == pytest.approx(0.0, abs=0.002)


def test_chromate_alone_in_a_caustic_bath_only_takes_its_time() -> None:
    facts = RunFacts("bench-1", "", LIMIT_AMPS, poll_s=POLL_S, bath_litres=0.5)
    vigil = Vigil(facts)
    told: list[str] = []
    for row in loaded(0.0, 19.0):
        verdict = vigil.update(row)
        told += [event.alarm for event in verdict.events] + [one.prompt for one in verdict.prompts]
    assert set(told) <= {*ONLY_SAID, AlarmName.TIME_OVER}


def test_heated_by_0_87_kelvin_a_minute_the_same_bath_is_seen_to_trip() -> None:
    # 120 W into 2 L of 5 % NaOH are 0.869 K/min (3940 J/(kg K), 1.0519 kg/L; Laliberte 2009).
    rows = loaded(0.869, 17.0)
    assert rows[-1].t_s < 1790.0
    watched = watch(rows, Chain(LIMIT_AMPS, poll_s=POLL_S))
    assert watched.stands
    lead_s = rows[-1].t_s - watched.raised_s[-1]
    assert 30.0 <= lead_s <= 600.0
    last = watched.estimates[-1]
    assert last.warming_rise == pytest.approx(0.0175 * 0.869 * rows[-1].t_s / 60.0, rel=0.06)
    assert last.other_rise is not None
    assert last.other_rise < 0.0
    assert math.isfinite(last.other_rise)
