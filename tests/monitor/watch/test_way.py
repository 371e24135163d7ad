"""The operator's way on the job card: who comes when it calls is warned sooner."""

import pytest

from monitor.model.alarm import AlarmName, Change
from monitor.model.card import COMES_S, STAYS_S, JobCard
from monitor.model.run import RunFacts
from monitor.recorder.in_force import in_force
from monitor.recorder.plan import SupplyPlan
from monitor.watch.vigil import Vigil
from tests.monitor.analysis.traces import sample

FACTS = RunFacts("bench-1", "scpi:tcp://127.0.0.1:5025", 10.0, poll_s=1.0)


def warned_at_s(reaction_s: float | None) -> float:
    """Seconds at which a cut-out is first expected, of amps that rise by 1 % in 10 s."""
    vigil = Vigil(FACTS)
    vigil.take_card(JobCard(reaction_s=reaction_s))
    for n in range(900):
        verdict = vigil.update(sample(n, float(n), 9.0, 5.0 * 1.001**n))
        for event in verdict.events:
            if event.alarm == AlarmName.TRIP_EXPECTED and event.change is Change.RAISED:
                return float(n)
    raise AssertionError("never warned")


def test_whoever_comes_when_it_calls_is_warned_sooner_and_who_stays_as_ever() -> None:
    assert warned_at_s(COMES_S) < warned_at_s(None) - 60.0
    assert warned_at_s(STAYS_S) == warned_at_s(None)


def test_a_card_without_the_answer_takes_it_back() -> None:
    vigil = Vigil(FACTS)
    vigil.take_card(JobCard(reaction_s=COMES_S))
    assert vigil.horizon_s == COMES_S
    vigil.take_card(JobCard())
    assert vigil.horizon_s == FACTS.horizon_s


@pytest.mark.parametrize(("way_s", "horizon_s"), [(None, 120.0), (15.0, 120.0), (240.0, 240.0)])
def test_the_limits_in_force_name_it(way_s: float | None, horizon_s: float) -> None:
    assert in_force(SupplyPlan(FACTS), (), JobCard(reaction_s=way_s)).horizon_s == horizon_s
