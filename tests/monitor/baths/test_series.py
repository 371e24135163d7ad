"""Leads and contacts over runs: by set-up, copper taken off, growth told from a day's own part."""

import pytest

from monitor.baths.connection import contacts_of
from monitor.baths.ledger import Looks
from monitor.baths.series import series_of
from monitor.export.bath_text import contacts_text, series_text
from monitor.model.entry import BathState, Entry, Kind
from monitor.model.leads import Leads
from tests.monitor.baths.jobs import BAR, BELL, a_job

# 4 m of gauge 10: 0.9989 ohm per 1000 ft at 20 C (American wire gauge table, ASTM B258).
COPPER = 0.9989 / 304.8 * 4.0


def test_each_set_up_has_a_trend_of_its_own() -> None:
    # Contacts that take 10 milliohm more each job, at the bell alone; the handlebar is as it was.
    jobs = [a_job(n, 1.0 / (0.6 + 0.010 * n)) for n in range(1, 9)]
    jobs += [a_job(n, 1.0 / 0.5, BAR) for n in range(9, 15)]
    bell, bar = series_of(BathState(), jobs, Looks(()))
    assert (bell.set_up, bell.jobs) == (BELL, 8)
    assert bell.per_job_ohms == pytest.approx(0.010, rel=1e-6)
    assert bell.wants_a_look
    assert bar.per_job_ohms == pytest.approx(0.0, abs=1e-9)
    assert not bar.wants_a_look
    assert "It has GROWN" in series_text(bell)
    assert "bell (tank) at bench-1: 670 milliohm after 8 jobs, +10.0" in series_text(bell)


def test_another_solution_begins_another_series() -> None:
    jobs = [a_job(n, 1.0 / 0.6) for n in range(1, 6)] + [a_job(n, 1.0 / 0.8) for n in range(6, 11)]
    (found,) = series_of(BathState(changes=(0, 5500)), jobs, Looks(()))
    assert found.first_ohms == pytest.approx(0.8)
    assert not found.wants_a_look


def test_a_bath_that_loads_up_asks_for_no_look() -> None:
    (found,) = series_of(BathState(), [a_job(n, 1.5 * 1.012**n) for n in range(1, 20)], Looks(()))
    assert found.per_job_ohms is not None
    assert found.per_job_ohms < 0.0
    assert not found.wants_a_look


def test_gauge_and_length_are_taken_off_and_the_rest_is_contact() -> None:
    looks = Looks((Entry("tank", Kind.LEADS, 5, supply="bench-1", ohms=COPPER + 0.006),))
    jobs = [a_job(n, 1.0 / 0.6, copper_ohms=Leads(10, 4.0).ohms()) for n in range(1, 6)]
    (found,) = series_of(BathState(), jobs, looks)
    assert found.contact_ohms == pytest.approx(0.006, rel=0.01)
    (unknown,) = series_of(BathState(), jobs, Looks(()))
    assert unknown.contact_ohms is None


def test_contacts_are_told_look_by_look() -> None:
    found = contacts_of([COPPER + 0.004, COPPER + 0.010], Leads(10, 4.0).ohms())
    told = contacts_text(found, 0.0)
    assert told == (
        "23.1 milliohm when last measured (copper 13.1); contacts over time: 4.0, 10.0, "
        "now 2.5 times the first. Output OFF. CLEAN the contacts; they may be hot."
    )


def test_what_leads_cost_at_the_usual_amps_is_told() -> None:
    # 4 m of gauge 10 at 30 A: 0.393 V and 11.8 W (wire table above; Ohm's and Joule's laws).
    found = contacts_of([COPPER], Leads(10, 4.0).ohms())
    told = contacts_text(found, 30.0)
    assert "at 30.0 A they lose 0.39 V and 11.8 W" in told
    assert "CLEAN" not in told
