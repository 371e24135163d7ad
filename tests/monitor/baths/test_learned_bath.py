"""What earlier runs of a bath teach, and the forecast in the first minute that comes of it."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

import pytest

from benchmarks.outcome_jobs import Bench, Job, draw
from benchmarks.outcome_policies import BEGAN_UTC_NS
from monitor.baths.learned_bath import follow, learned_bath
from monitor.model.bath_prior import DRIFT, BathPrior, next_prior
from monitor.model.estimate import Forecast
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.store.reader import open_store
from monitor.watch.vigil import Vigil
from tests.clock import HandClock
from tests.monitor.store.bench import a_store

JOB = draw("warming", 5001)


def facts(job: Job) -> RunFacts:
    litres = job.told_litres
    return RunFacts("s", "", job.plate.limit_amps, bath="b", bath_litres=litres, poll_s=0.5)


def rows(job: Job, seconds: float = 600.0) -> Iterator[Sample]:
    bench = Bench(job)
    for seq in range(round(seconds / job.poll_s)):
        bench.step()
        bench.step()
        if bench.has_cut_out:
            return
        t_ns = round(bench.t_s * 1e9)
        yield Sample(seq, t_ns, BEGAN_UTC_NS + t_ns, 0, *bench.measured())


def earlier(count: int) -> BathPrior | None:
    prior: BathPrior | None = None
    for n in range(count):
        job = replace(JOB, number=100 + n)
        known = follow(iter(list(rows(job))), facts(job), job.told_litres, prior)
        prior = next_prior(known.learned, known.default)
    return prior


def first_told(prior: BathPrior | None) -> tuple[float, Forecast]:
    """When a range within a factor of three is told first, and the forecast then."""
    vigil = Vigil(facts(JOB))
    vigil.expect(prior=prior)
    for row in rows(JOB):
        forecast = vigil.update(row).estimate.forecast
        low, high = forecast.trip_in_low_s, forecast.trip_in_high_s
        if low is not None and high is not None and high <= 3.0 * low:
            return row.t_s, forecast
    raise AssertionError("no range was told")


def test_with_five_runs_a_range_is_told_within_fifteen_seconds() -> None:
    t_s, forecast = first_told(earlier(5))
    assert t_s <= 15.0
    trip_s = list(rows(JOB))[-1].t_s
    assert forecast.trip_in_low_s is not None
    assert forecast.trip_in_high_s is not None
    assert forecast.trip_in_low_s <= trip_s - t_s <= forecast.trip_in_high_s
    alone_s, _ = first_told(None)
    assert alone_s > 30.0


def test_each_run_makes_the_next_one_surer() -> None:
    one, five = earlier(1), earlier(5)
    assert one is not None
    assert five is not None
    assert five.is_sound
    assert five.sd(DRIFT) < one.sd(DRIFT)


def test_near_the_limit_the_trend_keeps_its_word() -> None:
    with_history, alone = Vigil(facts(JOB)), Vigil(facts(JOB))
    with_history.expect(prior=earlier(2))
    for row in rows(JOB):
        first, second = with_history.update(row), alone.update(row)
        told_s = second.estimate.forecast.trip_in_s
        if told_s is not None and told_s < 500.0 and row.t_s > 200.0:
            assert first.estimate.forecast == second.estimate.forecast
        assert [e.alarm for e in first.events] == [e.alarm for e in second.events]


def test_a_wrong_prior_is_forgotten_within_five_minutes() -> None:
    right = earlier(2)
    assert right is not None
    wrong = replace(right, means=(right.means[0] + 6e-4, *right.means[1:]))
    vigil, alone = Vigil(facts(JOB)), Vigil(facts(JOB))
    vigil.expect(prior=wrong)
    told: list[tuple[float, float]] = []
    for row in islice(rows(JOB), 600):
        a = vigil.update(row).estimate.forecast.trip_in_s
        b = alone.update(row).estimate.forecast.trip_in_s
        if a is not None and b is not None:
            told.append((a, b))
    assert math.log(told[-1][0] / told[-1][1]) == pytest.approx(0.0, abs=0.15)


def test_the_runs_of_the_same_bath_and_supply_are_read_from_the_store(tmp_path: Path) -> None:
    jobs = [replace(JOB, number=100 + n) for n in range(2)]
    with a_store(tmp_path / "a.db") as writer:
        for job in jobs:
            run = writer.begin_run(facts(job), clock=HandClock(), program="test").run
            writer.write([(run, row) for row in rows(job)])
            writer.end_run(run, 600 * 10**9, "ended by the operator")
    with open_store(tmp_path / "a.db") as store:
        found = learned_bath(store, facts(JOB), "b", 99)
        assert learned_bath(store, facts(JOB), "another", 99) is None
        assert learned_bath(store, replace(facts(JOB), supply="other"), "b", 99) is None
        assert learned_bath(store, facts(JOB), "b", 1) is None
    expected = earlier(2)
    assert found is not None
    assert expected is not None
    assert found.means == pytest.approx(expected.means, rel=0.2, abs=0.1)
    assert found.sd(DRIFT) == pytest.approx(expected.sd(DRIFT), rel=0.3)
