"""After a dilution the next minutes are held against the promise, and its error is shown."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.baths.bath_view import view_of
from monitor.baths.ledger import Looks
from monitor.baths.poured import Poured, dilutions
from monitor.baths.trend import prospect_of
from monitor.export.bath_text import poured_text
from monitor.model.entry import Entry, Kind, state_of
from monitor.store.bath_rows import BathBook
from monitor.store.reader import open_store
from tests.monitor.baths.jobs import a_job
from tests.monitor.store.bench import BEGAN_UTC_NS, a_run, a_sample, a_store, an_estimate

SECOND = 1_000_000_000
POLLS = 5
MADE = Entry("north tank", Kind.MAKE_UP, 1, 9.0, None, 60.0, "caustic")
WATER = Entry(
    "north tank", Kind.DILUTION, BEGAN_UTC_NS + 120 * SECOND, 2.0, supply="bench-1", volts=6.0,
    amps_before=8.4, amps_aimed=7.2,
)  # fmt: skip


def a_run_that_is_thinned(path: Path, last_s: int) -> None:
    """2 S until water is poured in at two minutes; while it is stirred, anything; then 1.75 S."""
    with a_store(path) as writer:
        run = a_run(writer)
        for t_s in range(last_s):
            siemens = 2.0 if t_s < 120 else 1.2 if t_s < 150 else 1.75
            told = an_estimate(t_s * POLLS)._replace(
                siemens=siemens, polarisation_volts=1.8, in_contact=True
            )
            writer.write([(run, a_sample(t_s * POLLS)), (run, told)])
    for entry in (MADE, WATER):
        BathBook(path).add(entry)


def only_pouring(path: Path) -> Poured:
    (poured,) = view_of(path, "north tank").poured
    return poured


def test_the_next_minutes_of_the_run_that_goes_on_are_compared(tmp_path: Path) -> None:
    a_run_that_is_thinned(tmp_path / "a.db", 300)
    poured = only_pouring(tmp_path / "a.db")
    assert poured.after is not None
    # 1.75 S beyond 1.8 V of polarisation at 6 V (Ohm's law): 7.35 A; promised were 7.2.
    assert poured.after.amps == pytest.approx(7.35)
    assert poured.error == pytest.approx(7.35 / 7.2 - 1.0)
    assert poured_text(poured) == (
        "predicted 7.20 A, measured 7.35 A in the next 2 min of run 1 (+2.1 %)"
    )


def test_nothing_is_said_before_the_water_is_stirred_in(tmp_path: Path) -> None:
    a_run_that_is_thinned(tmp_path / "a.db", 160)
    poured = only_pouring(tmp_path / "a.db")
    assert poured.after is None
    assert "no job since then to compare" in poured_text(poured)


def test_another_supply_or_bath_says_nothing_of_it(tmp_path: Path) -> None:
    a_run_that_is_thinned(tmp_path / "a.db", 300)
    for other in (replace(WATER, supply="bench-2"), replace(WATER, bath="swab pot")):
        with open_store(tmp_path / "a.db") as store:
            (poured,) = dilutions(store, [other], [], prospect_of(state_of([]), []), Looks(()))
        assert poured.after is None


def test_the_leads_are_taken_out_before_an_exponent_is_learned(tmp_path: Path) -> None:
    # A bath that follows c^0.87 to the letter, behind 60 milliohm of leads: seen through them it
    # would seem to follow a lower power.
    strengths = 9.0 / 11.0
    before, after = 0.5, 0.5 / strengths**0.87
    water = replace(WATER, at_utc_ns=5500, amps_before=None, amps_aimed=None)
    jobs = [a_job(n, 1.0 / (before + 0.06)) for n in range(2, 6)]
    jobs += [a_job(n, 1.0 / (after + 0.06)) for n in range(6, 10)]
    look = Entry("north tank", Kind.LEADS, 2, supply="bench-1", ohms=0.06)
    entries = [MADE, water]
    a_store(tmp_path / "a.db").close()
    found = {}
    for name, looks in (("known", Looks((look,))), ("unknown", Looks(()))):
        with open_store(tmp_path / "a.db") as store:
            prospect = prospect_of(state_of(entries), jobs)
            (poured,) = dilutions(store, entries, jobs, prospect, looks)
        assert poured.conductances is not None
        found[name] = poured.conductances
    assert found["known"] == pytest.approx(strengths**0.87)
    assert found["unknown"] > found["known"] * 1.01
