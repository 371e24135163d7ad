"""Samples that need no judging get the same answer as those that are judged."""

from random import Random

import pytest

from drivers.reading import Mode
from monitor.alarms.current_conditions import QUIET, CurrentConditions
from monitor.analysis.holding import Holding
from monitor.model.fittings import NO_FITTINGS
from monitor.model.run import LimitKind
from monitor.model.sample import Sample
from tests.monitor.analysis.traces import sample

LIMIT = 20.0
POLL_S = 0.5
USUAL = (9.0, 1.6, 0.0, False)


def odd_run(seed: int) -> list[Sample]:
    """Volts and amps with a hand at the knob, jumps, falls, shorts, lifts, holding and silences."""
    draw, rows, t_s = Random(seed), [], 0.0
    volts, siemens, wire, is_off = USUAL
    for seq in range(2400):
        t_s += POLL_S if draw.random() > 0.003 else draw.uniform(2.0, 30.0)
        if draw.random() < 0.03:
            is_usual = (volts, siemens, wire, is_off) == USUAL
            volts, siemens, wire, is_off = USUAL
            kind = draw.choice(("volts", "siemens", "siemens", "wire", "off"))
            if is_usual and kind == "volts":
                volts = draw.choice((-0.5, 3.0, 8.0, 9.3, 12.5))
            elif is_usual and kind == "siemens":
                siemens *= draw.choice((0.6, 0.75, 1.28, 1.5, 1.75, 2.5))
            elif is_usual:
                wire, is_off = (30.0, False) if kind == "wire" else (0.0, True)
        wanted = siemens * max(volts - 2.0, 0.0) + wire * max(volts, 0.0)
        share = min(1.0, 1.3 * LIMIT / wanted) if wanted > 0.0 else 1.0
        amps = 0.0 if is_off else share * wanted * (1.0 + 0.005 * draw.gauss(0.0, 1.0))
        rows.append(sample(seq, t_s, share * volts, amps))
    return rows


@pytest.mark.parametrize("seed", range(6))
def test_a_sample_that_is_not_judged_would_have_been_found_quiet(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    conditions, judging = (
        CurrentConditions(LIMIT, LimitKind.TRIPS, POLL_S, NO_FITTINGS) for _ in range(2)
    )
    monkeypatch.setattr(judging, "_is_ordinary", lambda *seen: False)
    holding, quiet = Holding(LIMIT, is_said_to_hold=False), 0
    for row in odd_run(seed):
        assert row.volts is not None
        assert row.amps is not None
        holding.update(row.t_s, row.volts, row.amps, Mode.UNKNOWN)
        seen = (row, row.volts, row.amps, holding, (1.4, 2.4), False)
        found = conditions.judge(*seen)
        assert found == judging.judge(*seen)
        assert (conditions.drop, conditions.knob_move) == (judging.drop, judging.knob_move)
        assert (conditions.short, conditions.jump) == (judging.short, judging.jump)
        quiet += found is QUIET
    assert quiet > 100
