"""A bath that comes near the limit is told what to do before anybody asks."""

from dataclasses import replace

import pytest

from monitor.baths.connection import contacts_of
from monitor.baths.dilution import Advice, Remedy, learned_exponent
from monitor.baths.standing_advice import standing_advice
from monitor.baths.trend import prospect_of
from monitor.export.bath_text import to_do_text
from monitor.model.entry import BathState
from tests.monitor.baths.jobs import a_job

FRESH = BathState(9.0, 70.0, "caustic", 1, (1,))


def told(
    state: BathState,
    growth: float,
    jobs: int,
    lead_ohms: float = 0.0,
    holds_litres: float | None = None,
) -> Advice | None:
    runs = [
        replace(a_job(n, 1.45 * growth**n), holds_litres=holds_litres) for n in range(1, jobs + 1)
    ]
    contacts = {"bench-1": contacts_of([lead_ohms], None)} if lead_ohms else {}
    prospect = prospect_of(state, runs)
    return standing_advice(state, runs, prospect, learned_exponent([]), contacts)


def test_a_bath_near_its_limit_is_to_be_thinned_to_what_it_was() -> None:
    found = told(FRESH, 1.02, 19)
    assert found is not None
    assert found.remedy is Remedy.DILUTE
    # 18 jobs at 2 % have made it 43 % more conductive; kappa ~ c^0.87 (CRC Handbook, 2 to 5 %).
    n = learned_exponent([]).n
    assert 9.0 / (9.0 + found.water_litres) == pytest.approx(1.02 ** (-18.0 / n), rel=1e-6)
    text = to_do_text(found)
    assert text.startswith("DILUTE: add ")
    assert "what the usual job drew in the fresh bath" in text


def test_leads_that_water_does_not_thin_are_taken_out() -> None:
    bare, behind = told(FRESH, 1.02, 19), told(FRESH, 1.02, 19, lead_ohms=0.05)
    assert bare is not None
    assert behind is not None
    assert behind.water_litres > bare.water_litres


def test_a_vessel_without_room_is_drawn_off_first() -> None:
    found = told(FRESH, 1.02, 19, holds_litres=10.0)
    assert found is not None
    assert found.drawn_litres > 0.0
    assert 9.0 - found.drawn_litres + found.water_litres == pytest.approx(10.0)
    assert "room" not in to_do_text(found, holds_litres=10.0).replace("has no room", "")
    assert "Check that there is room" in to_do_text(told(FRESH, 1.02, 19))


def test_a_swabs_sleeve_is_flushed_too() -> None:
    assert "sleeve" in to_do_text(told(FRESH, 1.02, 19), is_swab=True)


def test_a_weak_bath_is_to_be_replaced_instead() -> None:
    found = told(BathState(9.0, 55.0, "caustic", 1, (1,)), 1.02, 19)
    assert found is not None
    assert found.remedy is Remedy.REPLACE


def test_a_bath_far_from_its_limit_is_left_alone() -> None:
    found = told(FRESH, 1.005, 8)
    assert found is not None
    assert found.remedy is Remedy.NOTHING


def test_without_litres_or_a_like_job_nothing_is_claimed() -> None:
    assert told(BathState(made_up_utc_ns=1), 1.02, 19) is None
    assert told(FRESH, 1.02, 1) is None
    assert told(FRESH, 1.02, 0) is None
    assert "needs the litres" in to_do_text(None)
