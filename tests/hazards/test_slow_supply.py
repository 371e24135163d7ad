"""A supply that takes half a second for an answer, polled each 0.2 s: nothing is missing of it."""

import pytest

from monitor.model.sample import Gap, Sample
from monitor.watch.vigil import Verdict
from tests.monitor.recorder.slow import slow_bench

REPLY_S, POLL_S, SECONDS = 0.5, 0.2, 300.0


def test_it_has_full_coverage_and_its_true_charge() -> None:
    told: list[tuple[Sample | Gap, Verdict]] = []
    bench = slow_bench(REPLY_S, POLL_S, lambda run, row, verdict: told.append((row, verdict)))
    while not told or told[-1][0].t_s < SECONDS:
        bench.poll()
    amps = [row.amps for row, _ in told if isinstance(row, Sample) and row.amps is not None]
    seconds = told[-1][0].t_s - told[0][0].t_s
    true_amp_hours = sum(amps) / len(amps) * seconds / 3600.0
    charge = told[-1][1].estimate.charge
    assert charge.coverage >= 0.98
    assert charge.amp_hours == pytest.approx(true_amp_hours, rel=0.02)
