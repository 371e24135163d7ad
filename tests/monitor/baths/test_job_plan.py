"""Plans of jobs from a store: what they go by, what they advise, what they say is not known."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.baths.job_plan import Asked, plan_of_job
from monitor.model.card import JobCard, Way
from monitor.model.fittings import NO_FITTINGS, Fittings, VoltsWindow
from monitor.model.run import LimitKind, RunFacts
from monitor.model.step import JobStep
from monitor.model.strip_plan import Basis, StripPlan, Unknown
from monitor.store.reader import open_store
from monitor.text.strip_plan import choice, plan_lines
from tests.monitor.baths.test_usual_draw import BELL, jobs
from tests.monitor.store.bench import FACTS

CARD = replace(BELL, micrometres=0.3)
BENCH = replace(FACTS, supply="bench-1", limit_amps=10.0, bath="north tank", bath_litres=9.0)
DENSE = Fittings(steps=(JobStep("strip", (6.0, 12.0), amps_per_dm2=(2.0, 5.0)),))


def planned(
    path: Path | None = None,
    card: JobCard = CARD,
    volts: float | None = None,
    celsius: float | None = None,
    facts: RunFacts = BENCH,
    fittings: Fittings = NO_FITTINGS,
) -> StripPlan:
    asked = Asked(facts, fittings, CAUSTIC_PER_KELVIN, card, volts, celsius, now_ns=2 * 10**18)
    if path is None:
        return plan_of_job(None, asked)
    with open_store(path) as store:
        return plan_of_job(store, asked)


def test_like_jobs_give_amps_and_volts(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0, 1.1, 1.2)
    plan = planned(tmp_path / "a.db", celsius=25.0)
    assert plan.basis is Basis.LIKE_JOBS_AT_25
    assert plan.asked is not None
    # 0.9 x 1.1 S at 25 C over 7 V less 2 V, Ohm's law.
    assert plan.asked.volts == 7.0
    assert plan.asked.amps.middle == pytest.approx(4.95, rel=0.01)
    assert plan.chosen is None
    assert choice(plan) == "Set 7 V: no cut-out is likely."


def test_a_warmer_bath_draws_more(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0, 1.1, 1.2)
    cold = planned(tmp_path / "a.db", celsius=25.0).asked
    warm = planned(tmp_path / "a.db", celsius=35.0).asked
    assert cold is not None
    assert warm is not None
    assert warm.amps.middle / cold.amps.middle == pytest.approx(
        1.0 + 10 * CAUSTIC_PER_KELVIN, rel=1e-3
    )


def test_without_a_temperature_the_range_is_wide_and_it_says_so(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0)
    known, unknown = planned(tmp_path / "a.db", celsius=25.0), planned(tmp_path / "a.db")
    assert known.asked is not None
    assert unknown.asked is not None
    assert unknown.asked.amps.high > 1.1 * known.asked.amps.high
    assert Unknown.CELSIUS in unknown.unknown
    assert Unknown.CELSIUS not in known.unknown


def test_volts_that_would_cut_out_are_lowered(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 2.4)
    plan = planned(
        tmp_path / "a.db", celsius=25.0, fittings=Fittings(window=VoltsWindow(4.0, 12.0))
    )
    assert plan.asked is not None
    assert plan.chosen is not None
    assert plan.chosen.volts < plan.asked.volts
    assert plan.chosen.amps.middle < 10.0
    assert choice(plan).startswith(f"Set {plan.chosen.volts:g} V, not 7 V: at 7 V the supply")


def test_where_no_volts_of_the_window_will_do_it_says_so(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 6.0)
    card = replace(CARD, way=Way.TANK)
    tight = Fittings(steps=(JobStep("strip", (6.5, 12.0)),))
    plan = planned(tmp_path / "a.db", card, celsius=25.0, fittings=tight)
    assert plan.chosen is None
    assert not plan.will_do
    assert choice(plan).startswith("No volts in the step's window will do")


def test_a_supply_that_holds_needs_no_lower_volts(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 2.4)
    holds = replace(BENCH, limit_kind=LimitKind.HOLDS)
    plan = planned(tmp_path / "a.db", celsius=25.0, facts=holds)
    assert plan.chosen is None
    assert choice(plan) == "Set 7 V; the supply then holds 10.0 A."


def test_without_like_jobs_the_density_of_the_step_gives_a_wide_range() -> None:
    plan = planned(fittings=DENSE, volts=9.0)
    assert plan.basis is Basis.DENSITY
    assert plan.asked is not None
    # 1.6 dm2 at 2 to 5 A/dm2.
    assert plan.asked.amps.low == pytest.approx(3.2, rel=0.05)
    assert plan.asked.amps.high == pytest.approx(8.0, rel=0.05)
    assert plan.most_amps == pytest.approx(8.0)
    assert Unknown.AMPS in plan.unknown


def test_with_nothing_known_it_says_what_to_enter() -> None:
    bare = replace(BENCH, bath="", bath_litres=None)
    plan = planned(card=JobCard(), facts=bare)
    assert plan.asked is None
    assert plan.charge is None
    assert plan.least_charge is None
    assert choice(plan).startswith("The amps cannot be told before")
    text = "\n".join(plan_lines(plan))
    assert "--area" in text
    assert "--chromium" in text
    assert "--bath-litres" in text


def test_the_charge_is_at_least_faradays() -> None:
    # Derived from Faraday's law: 0.0667 Ah for 1 dm2 of 0.30 um.
    plan = planned()
    assert plan.least_charge == pytest.approx(1.6 * 0.0667, rel=1e-3)


def test_volts_near_the_intercept_are_not_reckoned(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0)
    plan = planned(tmp_path / "a.db", volts=2.0, celsius=25.0)
    assert plan.asked is None
    assert choice(plan).startswith("At so few volts hardly any current flows")


def test_jobs_of_another_supply_or_area_say_nothing(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0)
    for other in (replace(BENCH, supply="bench-9"), BENCH):
        card = CARD if other is not BENCH else replace(CARD, part="rim", area_dm2=4.0)
        assert planned(tmp_path / "a.db", card, facts=other).asked is None


@pytest.mark.parametrize("area", [0.0001, 1e4])
@pytest.mark.parametrize("volts", [0.5, 2.6, 1000.0])
def test_no_card_breaks_it(area: float, volts: float) -> None:
    plan = planned(card=replace(CARD, area_dm2=area), fittings=DENSE, volts=volts)
    assert plan_lines(plan)
