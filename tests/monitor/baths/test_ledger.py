"""The ledger: entries are added, corrections are entries, and what it says of a bath's life."""

import json
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.base.errors import StoreError, WrongUse
from monitor.baths.connection import contacts_of, line_through
from monitor.baths.trend import prospect_of
from monitor.commands.main import run
from monitor.model.entry import BathState, Entry, Kind, state_of
from monitor.model.leads import Leads
from monitor.store.bath_rows import BathBook
from tests.monitor.baths.jobs import BAR, a_job


def test_entries_are_never_changed_or_deleted(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    BathBook(path).add(Entry("pot", Kind.MAKE_UP, 1, litres=0.4))
    with sqlite3.connect(path) as raw:
        for deed in ("UPDATE bath_entries SET litres = 4", "DELETE FROM bath_entries"):
            with pytest.raises(sqlite3.IntegrityError, match="add a correction"):
                raw.execute(deed)
    raw.close()


def test_a_correction_takes_the_place_and_both_stay(tmp_path: Path) -> None:
    book = BathBook(tmp_path / "a.db")
    book.add(Entry("pot", Kind.MAKE_UP, 1, litres=4.0, grams_per_litre=60.0))
    book.add(Entry("pot", Kind.MAKE_UP, 1, litres=0.4, grams_per_litre=60.0, corrects=1))
    assert len(book.entries("pot")) == 2
    assert state_of(book.entries("pot")).litres == 0.4
    with pytest.raises(StoreError, match="correct entry 2"):
        book.add(Entry("pot", Kind.MAKE_UP, 1, litres=0.5, corrects=1))
    with pytest.raises(StoreError, match="no entry 9"):
        book.add(Entry("pot", Kind.WITHDRAWAL, 1, corrects=9))
    book.add(Entry("pot", Kind.WITHDRAWAL, 1, corrects=2))
    assert state_of(book.entries("pot")) == BathState()


def test_what_was_drawn_off_thins_less() -> None:
    made = Entry("pot", Kind.MAKE_UP, 1, litres=10.0, grams_per_litre=60.0, entry=1)
    state = state_of([made, Entry("pot", Kind.DILUTION, 2, litres=2.0, drawn_litres=2.0, entry=2)])
    assert state.litres == 10.0
    assert state.grams_per_litre == pytest.approx(48.0)
    assert state.stretch(1) == 1
    assert state.stretch(2) == 2


def test_jobs_left_follow_from_the_growth_of_like_jobs() -> None:
    # 1 % a job; the peak is at 7.2 A of 10: ln(10 / 7.2) / ln(1.01) = 33 jobs.
    jobs = [a_job(n, 1.5 * 1.01**n) for n in range(1, 5)]
    prospect = prospect_of(BathState(), jobs)
    assert prospect.trend is not None
    assert prospect.trend.per_job == pytest.approx(0.01, abs=1e-6)
    assert prospect.peak_amps is not None
    assert prospect.jobs_left is not None
    assert prospect.peak_amps * 1.01**prospect.jobs_left == pytest.approx(10.0)


def test_a_larger_part_is_no_growth() -> None:
    # Bells, then handlebars that draw half as much again: nothing has grown.
    jobs = [a_job(n, 1.2) for n in range(1, 6)] + [a_job(n, 1.8, BAR) for n in range(6, 11)]
    prospect = prospect_of(BathState(), jobs)
    assert prospect.trend is not None
    assert prospect.trend.per_job == pytest.approx(0.0, abs=1e-9)
    assert prospect.jobs_left is None


def test_a_dilution_is_no_shrinking() -> None:
    jobs = [a_job(n, 1.5 * 1.01**n) for n in range(1, 6)]
    jobs += [a_job(n, 1.2 * 1.01**n) for n in range(6, 11)]
    prospect = prospect_of(BathState(changes=(0, 5500)), jobs)
    assert prospect.trend is not None
    assert prospect.trend.per_job == pytest.approx(0.01, abs=1e-6)


def test_few_jobs_give_no_trend_and_noise_gives_a_range() -> None:
    assert prospect_of(BathState(), [a_job(1, 1.0), a_job(2, 1.1)]).trend is None
    assert prospect_of(BathState(), []).jobs_left is None
    jobs = [a_job(n, 1.5 * 1.01**n * (1.01 if n % 2 else 0.99)) for n in range(1, 9)]
    prospect = prospect_of(BathState(), jobs)
    assert prospect.low is not None
    assert prospect.jobs_left is not None
    assert prospect.low < prospect.jobs_left


def test_a_bath_at_its_limit_has_no_jobs_left() -> None:
    assert prospect_of(BathState(), [a_job(n, 2.4) for n in range(1, 6)]).jobs_left == 0.0


def test_a_soft_start_tells_resistance_from_polarisation() -> None:
    line = line_through([(1.8 + 0.62 * amps, amps) for amps in (1.0, 3.0, 5.0, 6.5)])
    assert line.ohms == pytest.approx(0.62)
    assert line.at_no_amps == pytest.approx(1.8)
    with pytest.raises(WrongUse, match="nearly the same amps"):
        line_through([(6.0, 7.0), (6.01, 7.01), (6.0, 7.0)])


def test_copper_is_taken_off_and_the_rest_is_contact() -> None:
    # 4 m of gauge 10: 0.9989 ohm per 1000 ft at 20 C (American wire gauge table, ASTM B258).
    copper = 0.9989 / 304.8 * 4.0
    found = contacts_of([copper + 0.004, copper + 0.010], Leads(10, 4.0).ohms())
    assert found.contact_ohms == pytest.approx(0.010, rel=0.01)
    assert found.grown == pytest.approx(2.5, rel=0.01)
    assert found.wants_cleaning(5.0)
    # At 30 A the copper alone takes 0.393 V and 11.8 W.
    bare = contacts_of([copper], Leads(10, 4.0).ohms())
    assert bare.volts_lost(30.0) == pytest.approx(0.393, abs=0.001)
    assert bare.watts_lost(30.0) == pytest.approx(11.8, abs=0.05)
    assert not bare.wants_cleaning(30.0)


@pytest.fixture
def store(tmp_path: Path) -> str:
    path = str(tmp_path / "a.db")
    assert run(["bath", "make-up", "pot", "--litres", "0.4", "--grams-per-litre", "60",
                "--store", path]) == 0  # fmt: skip
    return path


def test_a_ledger_is_kept_by_commands(store: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["bath", "top-up", "pot", "--litres", "0.05", "--by", "Ada", "--store", store]) == 0
    assert run(["bath", "dilute", "pot", "--litres", "0.1", "--store", store]) == 0
    assert run(["bath", "correct", "pot", "3", "--litres", "0.08", "--store", store]) == 0
    assert run(["bath", "note", "pot", "filtered", "--store", store]) == 0
    capsys.readouterr()
    assert run(["bath", "show", "pot", "--store", store]) == 0
    told = capsys.readouterr().out
    assert "50 g/L" in told
    assert "(corrected)" in told
    assert "filtered" in told
    assert run(["bath", "show", "--json", "--store", store]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["litres"] == pytest.approx(0.48)
    assert told["dilutions"] == [
        {"entry": 4, "amps_promised": None, "amps_found": None, "error": None}
    ]
    assert (told["advice"], told["leads"], told["series"]) == (None, {}, [])


def test_a_titration_counts_more_than_what_the_ledger_works_out(
    store: str, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(*line: str) -> str:
        assert run(["bath", *line, "--store", store]) == 0
        return capsys.readouterr().out

    assert "60 g/L caustic by the ledger (worked out, never titrated)" in told("show", "pot")
    told("titrate", "pot", "--caustic", "45", "--carbonate", "20", "--by", "Ada")
    shown = told("show", "pot")
    assert "45 g/L caustic by the ledger, 20 g/L carbonate (titrated " in shown
    assert "titration, 45 g/L caustic, 20 g/L carbonate, by Ada" in shown
    # What is done afterwards is reckoned from there: 0.4 L with 4 g more, then a quarter water.
    told("add-caustic", "pot", "--grams", "4")
    told("dilute", "pot", "--litres", "0.1")
    state = json.loads(told("show", "pot", "--json"))
    assert state["grams_per_litre"] == pytest.approx((45.0 * 0.4 + 4.0) / 0.5)
    assert state["carbonate_grams_per_litre"] == pytest.approx(20.0 * 0.4 / 0.5)
    assert state["titrated"] is True
    assert [entry["kind"] for entry in state["entries"]][1:3] == ["titration", "caustic addition"]
    told("correct", "pot", "2", "--grams-per-litre", "50")
    state = json.loads(told("show", "pot", "--json"))
    assert state["grams_per_litre"] == pytest.approx((50.0 * 0.4 + 4.0) / 0.5)
    assert state["carbonate_grams_per_litre"] == pytest.approx(16.0)


def test_caustic_that_came_as_a_solution_brings_its_litres() -> None:
    made = Entry("pot", Kind.MAKE_UP, 1, litres=1.0, grams_per_litre=50.0, entry=1)
    more = Entry("pot", Kind.ADDITION, 2, litres=0.25, caustic_grams=25.0, entry=2)
    state = state_of([made, more])
    assert (state.litres, state.grams_per_litre) == (1.25, 60.0)
    assert state.changes == (1, 2)


def test_a_carbonate_baths_strength_is_its_carbonate() -> None:
    made = Entry("pot", Kind.MAKE_UP, 1, None, None, 67.0, "carbonate", entry=1)
    measured = Entry("pot", Kind.TITRATION, 2, carbonate_grams_per_litre=55.0, entry=2)
    state = state_of([made, measured])
    assert (state.grams_per_litre, state.titrated_utc_ns) == (55.0, 2)


def test_a_new_solution_forgets_the_titration_of_the_old_one() -> None:
    measured = Entry("pot", Kind.TITRATION, 1, grams_per_litre=30.0, entry=1)
    made = Entry("pot", Kind.REPLACEMENT, 2, 9.0, None, 60.0, "caustic", entry=2)
    state = state_of([measured, made])
    assert (state.grams_per_litre, state.titrated_utc_ns) == (60.0, None)


def test_advice_and_leads_by_commands(store: str, capsys: pytest.CaptureFixture[str]) -> None:
    line = ["bath", "advise", "pot", "--amps", "5", "--aim", "4.5", "--volts", "8", "--swab"]
    assert run([*line, "--store", store]) == 0
    told = capsys.readouterr()
    assert "distilled water" in told.out
    assert "sleeve" in told.out
    assert "Never mix the strip with acid" in told.err
    weak = ["bath", "advise", "pot", "--amps", "9", "--aim", "4", "--volts", "8", "--store", store]
    assert run(weak) == 0
    told = capsys.readouterr()
    # Half as many amps with 60 g/L: by the ledger water would leave too little caustic.
    assert "titrate" in told.out
    assert "ledger and meters disagree" in told.out
    look = ["bath", "leads", "pot", "--supply", "bench-2", "--amps", "10"]
    copper = ["--gauge-awg", "10", "--loop-metres", "4", "--store", store]
    assert run([*look, "--volts", "0.18", *copper]) == 0
    assert run([*look, "--volts", "0.30", *copper]) == 0
    assert "CLEAN" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (["top-up", "pott", "--litres", "1"], "did you mean 'pot'?"),
        (["show", "kettle"], "there is no bath 'kettle'"),
        (["dilute", "pot", "--litres", "4"], "more than pot holds"),
        (["dilute", "pot", "--litres", "0.1", "--drawn", "2"], "cannot leave"),
        (["correct", "pot", "7", "--litres", "1"], "no entry 7"),
        (["correct", "pot", "1", "--litres", "0"], "litres"),
        (["correct", "pot", "1"], "--withdraw"),
        (["note", "pot", "x", "--at", "soon"], "2026-03-01T08:15"),
        (["note", "pot", "x", "--at", "2999-01-01"], "is in the future"),
        (["top-up", "pot", "--litres", "0"], "litres"),
        (["leads", "pot", "--supply", "b"], "--run N"),
        (["advise", "pot"], "no two similar jobs"),
        (["advise", "pot", "--amps", "5"], "together, or none"),
        (["advise", "pot", "--amps", "5", "--aim", "4", "--volts", "1"], "no resistance"),
        (["advise", "kettle"], "there is no bath 'kettle'"),
    ],
)
def test_bad_input_is_one_clear_line_and_changes_nothing(
    store: str, line: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert run(["bath", *line, "--store", store]) == 2
    told = capsys.readouterr().err
    assert says in told
    assert "Traceback" not in told
    assert len(BathBook(Path(store)).entries()) == 1


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (["2", "--litres", "4"], "4 L are more than pot holds (0.4 L)"),
        (["1", "--litres", "0.05"], "0.1 L are more than pot holds (0.05 L)"),
        (["2", "--grams-per-litre", "50"], "entry 2 is a dilution and has no strength"),
        (["3", "--litres", "1"], "entry 3 is a note and has no litres"),
    ],
)
def test_a_correction_that_cannot_be_is_refused_and_changes_nothing(
    store: str, line: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["bath", "dilute", "pot", "--litres", "0.1", "--store", store]) == 0
    assert run(["bath", "note", "pot", "filtered", "--store", store]) == 0
    capsys.readouterr()
    assert run(["bath", "correct", "pot", *line, "--store", store]) == 2
    assert says in capsys.readouterr().err
    assert len(BathBook(Path(store)).entries()) == 3


def test_every_part_of_the_command_has_help() -> None:
    from monitor.commands.bath import command

    for name in command.commands:
        shown = CliRunner().invoke(command, [name, "--help"])
        assert shown.exit_code == 0
        assert "Usage:" in shown.output
