"""How long to let a bath cool: against Newton's law of cooling, and against the simulated bath."""

import math
from bisect import bisect_left

import pytest

from benchmarks.outcome_jobs import Bench, draw
from benchmarks.outcome_policies import BEGAN_UTC_NS
from monitor.analysis.advised_volts import rested
from monitor.analysis.bath_filter import EXCHANGE, D, L, S
from monitor.analysis.known_bath import KnownBath
from monitor.analysis.look_ahead import look_ahead
from monitor.analysis.planned_strip import PAUSES_S, Level, PlannedStrip
from monitor.baths.job_plan import pause_and_volts
from monitor.model.bath_prior import JOULES_PER_LITRE_KELVIN, LOSS, default_prior
from monitor.model.fittings import Fittings
from monitor.model.sample import Sample
from monitor.model.step import JobStep
from monitor.model.strip_plan import Range
from monitor.watch.vigil import Vigil
from tests.monitor.watch.test_adviser import facts

LITRES, VOLTS, LIMIT, COLD_AMPS = 0.2, 8.0, 10.0, 7.8
LEAST_VOLTS = 7.9
CHARGE = Range(0.045, 0.05, 0.055)


def strip(kelvin: float) -> PlannedStrip:
    """A small bath that an earlier run has left so warm."""
    known = KnownBath(LIMIT, LITRES, 0.0175)
    level = Level(Range(0.99 * COLD_AMPS, COLD_AMPS, 1.01 * COLD_AMPS), VOLTS)
    return PlannedStrip(known, level, kelvin, False, LIMIT, None, CHARGE)


@pytest.mark.parametrize("kelvin", [9.0, 11.0, 13.0, 15.0])
def test_a_pause_is_the_first_after_which_newtons_law_has_cooled_it_enough(kelvin: float) -> None:
    # theta = theta0 exp(-l t), with the loss that is usual for so many litres.
    loss = math.exp(default_prior(LITRES).means[LOSS])
    low, high = 0.0, kelvin
    for _ in range(30):
        middle = 0.5 * (low + high)
        will_do = strip(middle).will_do(LEAST_VOLTS)
        low, high = (middle, high) if will_do else (low, middle)
    assert 0.0 < low < kelvin - 0.5
    needed_s = math.log(kelvin / low) / loss
    told_s, volts = pause_and_volts(strip(kelvin), LEAST_VOLTS, LEAST_VOLTS)
    assert volts == LEAST_VOLTS
    # What is not known of loss and drift may ask for one step more.
    first = bisect_left(PAUSES_S, needed_s)
    assert told_s in PAUSES_S[first : first + 2]


def played(share: float | None) -> tuple[str, float, list[float]]:
    """How a job ends whose window has hardly room, and its pauses; `share` of each is kept."""
    job = draw("warming", 5005)
    bench = Bench(job)
    steps = (JobStep("strip", (job.volts - 0.2, 12.0)),)
    vigil = Vigil(facts(job), fittings=Fittings(steps=steps))
    vigil.expect(amp_hours=job.amp_hours)
    pauses: list[float] = []
    on_at_s, volts = math.inf, 0.0
    for seq in range(12_000):
        bench.step()
        bench.step()
        if bench.has_cut_out or bench.cell.is_stripped:
            break
        t_ns = round(bench.t_s * 1e9)
        row = Sample(seq, t_ns, BEGAN_UTC_NS + t_ns, 0, *bench.measured())
        advice = vigil.update(row).advice
        if share is not None and advice is not None and advice.pause_s and on_at_s == math.inf:
            assert advice.volts is not None
            pauses.append(advice.pause_s)
            on_at_s, volts = bench.t_s + share * advice.pause_s, advice.volts
            bench.supply.switch_output(False)
        if bench.t_s >= on_at_s:
            bench.supply.volts_set, on_at_s = volts, math.inf
            bench.supply.switch_output(True)
    return "cut out" if bench.has_cut_out else "done", bench.t_s, pauses


def test_whoever_keeps_the_pauses_ends_the_strip_that_else_cuts_out() -> None:
    assert played(None)[0] == "cut out"
    how, _, pauses = played(1.0)
    assert how == "done"
    assert pauses
    assert all(pause_s >= 120.0 for pause_s in pauses)


def test_until_a_pause_is_due_the_bath_still_warms() -> None:
    known = KnownBath(LIMIT, LITRES, 0.0175)
    bath = known.filters[0].bath
    bath.flow(0.0, 0.0)
    bath.update(0.0, math.log(COLD_AMPS), VOLTS, 1e-4, 1e-6, 30.0)
    bath.theta, due_s, pause_s = 5.0, 120.0, 600.0
    loss = math.exp(bath.mean[L])
    # By Euler's steps of a tenth of a second; the amps from the look ahead.
    theta, step_s = 5.0, 0.1
    amps = math.exp(look_ahead(bath, VOLTS, 0.0).log_amps[0])
    for n in range(round(due_s / step_s)):
        drift = math.exp(bath.mean[D] * n * step_s)
        grown = drift * ((1 + 0.0175 * theta) / (1 + 0.0175 * 5.0)) ** bath.mean[S]
        watts = VOLTS * amps * grown
        theta += step_s * (EXCHANGE * watts / (JOULES_PER_LITRE_KELVIN * LITRES) - loss * theta)
    expected = theta * math.exp(-loss * pause_s)
    assert rested(bath, due_s, pause_s, VOLTS, 1.0).theta == pytest.approx(expected, rel=0.02)
