"""One advice for a bath, wherever it is told; where ledger and meters disagree, find out first."""

from dataclasses import replace
from html import unescape
from unittest.mock import patch

import pytest
from click.testing import CliRunner
from hypothesis import example, given, settings
from hypothesis import strategies as st

from monitor.baths.advice import FLOOR_GRAMS_PER_LITRE
from monitor.baths.bath_view import BathView, make_view
from monitor.baths.dilution import learned_exponent
from monitor.baths.job_run import Vessel
from monitor.baths.ledger import Looks
from monitor.commands.bath import command
from monitor.export.bath_report import bath_report
from monitor.export.bath_text import bath_text
from monitor.model.advice import Advice, Reason, Remedy
from monitor.model.card import Way
from monitor.model.entry import Entry, Kind, in_force
from monitor.text.bath_advice import NOT_KNOWN, advice_lines, advice_text
from tests.monitor.baths.jobs import BELL, a_job
from tui.baths import BathPage
from tui.moment import Moment
from tui.panels.ledger import ledger_rows

FRESH = Entry("north tank", Kind.MAKE_UP, 1, 9.0, None, 70.0, "caustic", entry=1)
WEAK_MAKE_UP = replace(FRESH, grams_per_litre=55.0)
STAYS = 1.0


def a_view(
    entries: list[Entry],
    growth: float,
    jobs: int,
    lead_ohms: float = 0.0,
    holds_litres: float | None = None,
    way: str = "tank",
) -> BathView:
    runs = [
        replace(
            a_job(n, 1.45 * growth**n, replace(BELL, way=way)),
            vessel=None if holds_litres is None else Vessel(holds_litres=holds_litres),
        )
        for n in range(1, jobs + 1)
    ]
    look = Entry("north tank", Kind.LEADS, 2, supply="bench-1", ohms=lead_ohms or None, entry=99)
    everything = [*entries, look] if lead_ohms else entries
    return make_view("north tank", everything, Looks(in_force(everything)), runs, [])


def told(
    entries: list[Entry],
    growth: float,
    jobs: int,
    lead_ohms: float = 0.0,
    holds_litres: float | None = None,
) -> Advice | None:
    return a_view(entries, growth, jobs, lead_ohms, holds_litres).advice


def test_a_bath_near_its_limit_is_to_be_thinned_to_what_it_was() -> None:
    found = told([FRESH], 1.02, 19)
    assert found is not None
    assert found.remedy is Remedy.DILUTE
    # 18 jobs at 2 % have made it 43 % more conductive; kappa ~ c^0.87 (CRC Handbook, 2 to 5 %).
    n = learned_exponent([]).n
    assert 9.0 / (9.0 + found.water_litres) == pytest.approx(1.02 ** (-18.0 / n), rel=1e-6)
    text = advice_text(found)
    assert text.startswith("Output OFF. Add ")
    assert "what the usual job drew in the fresh bath" in text


def test_water_goes_into_a_cool_bath_only_and_slowly() -> None:
    # Additions under 38 C, 100 F: Metal Finishing Guidebook 2011-12, cleaning, p. 73.
    for entries in ([FRESH], [FRESH, titrated(30.0)]):
        found = told(entries, 1.02 if len(entries) == 1 else 0.98, 19)
        assert found is not None
        assert found.remedy in (Remedy.DILUTE, Remedy.STRENGTHEN)
        assert "slowly, to a bath under 38 C (100 F)" in advice_text(found)


def test_leads_that_water_does_not_thin_are_taken_out() -> None:
    bare, behind = told([FRESH], 1.02, 19), told([FRESH], 1.02, 19, lead_ohms=0.05)
    assert bare is not None
    assert behind is not None
    assert behind.water_litres > bare.water_litres


def test_a_vessel_without_room_is_drawn_off_first() -> None:
    found = told([FRESH], 1.02, 19, holds_litres=10.0)
    assert found is not None
    assert found.drawn_litres > 0.0
    assert 9.0 - found.drawn_litres + found.water_litres == pytest.approx(10.0)
    text = advice_text(found)
    assert "Draw off" in text
    assert "hazardous waste" in text
    assert "room" not in text
    assert "Check that there is room" in advice_text(told([FRESH], 1.02, 19))


def test_a_swabs_sleeve_is_flushed_too() -> None:
    found = a_view([FRESH], 1.02, 19, way=Way.SWAB.value).advice
    assert "sleeve" in advice_text(found)
    assert "sleeve" not in advice_text(told([FRESH], 1.02, 19))


def test_a_bath_far_from_its_limit_is_left_alone() -> None:
    found = told([FRESH], 1.005, 8)
    assert found is not None
    assert found.remedy is Remedy.NOTHING


def test_without_litres_or_a_like_job_nothing_is_claimed() -> None:
    assert told([replace(FRESH, litres=None)], 1.02, 19) is None
    assert told([FRESH], 1.02, 1) is None
    assert told([FRESH], 1.02, 0) is None
    assert "needs the litres" in advice_text(None)


def titrated(caustic: float, carbonate: float = 0.0, after: int = 19_500) -> Entry:
    return Entry(
        "north tank", Kind.TITRATION, after, grams_per_litre=caustic,
        carbonate_grams_per_litre=carbonate, entry=5,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("entries", "growth", "remedy", "reason"),
    [
        # Meters: too strong. Ledger: water makes it too weak. Nobody has titrated.
        ([WEAK_MAKE_UP], 1.02, Remedy.FIND_OUT, Reason.WATER_WOULD_WEAKEN),
        ([replace(FRESH, grams_per_litre=30.0)], STAYS, Remedy.FIND_OUT, Reason.LEDGER_SAYS_WEAK),
        # Titrated as weak, and the meters do not object.
        ([FRESH, titrated(30.0)], STAYS, Remedy.STRENGTHEN, Reason.TITRATED_WEAK),
        # A published aged strip: 38 g/L caustic, 92 g/L carbonate (STERC, January 2002).
        ([FRESH, titrated(38.0, 92.0)], 0.985, Remedy.REPLACE, Reason.MUCH_CARBONATE),
        # That strip cannot conduct more than fresh (ion data, CRC): the meters are asked.
        ([FRESH, titrated(38.0, 92.0)], 1.02, Remedy.FIND_OUT, Reason.WEAK_YET_DRAWS_MORE),
        # 40 % less, and the ledger knows of nothing.
        ([FRESH], 0.97, Remedy.FIND_OUT, Reason.CONDUCTS_LESS),
        # A titration explains half of it: no disagreement.
        ([FRESH, titrated(45.0)], 0.98, Remedy.NOTHING, Reason.FAR_FROM_LIMIT),
    ],
)
def test_where_ledger_and_meters_disagree_it_is_found_out(
    entries: list[Entry], growth: float, remedy: Remedy, reason: Reason
) -> None:
    found = told(entries, growth, 19)
    assert found is not None
    assert (found.remedy, found.reason) == (remedy, reason)
    if remedy is Remedy.FIND_OUT:
        assert "titrate" in advice_text(found)
        assert "fresh reference" in advice_text(found)
        assert "replace" not in advice_text(found).lower()


def test_caustic_is_added_up_to_what_it_was() -> None:
    found = told([FRESH, titrated(30.0)], STAYS, 19)
    assert found is not None
    # 9 L from 30 to 70 g/L.
    assert found.caustic_grams == pytest.approx(9.0 * 40.0)
    assert found.grams_after == 70.0


@st.composite
def ledgers(draw: st.DrawFn) -> BathView:
    """A make-up, then anything that a shop might enter, between jobs that go either way."""
    entries = [replace(FRESH, grams_per_litre=draw(st.none() | st.floats(20.0, 120.0)))]
    kinds = (Kind.DILUTION, Kind.TOP_UP, Kind.ADDITION, Kind.TITRATION, Kind.NOTE)
    for number in range(draw(st.integers(0, 4))):
        kind = draw(st.sampled_from(kinds))
        entries.append(
            Entry(
                "north tank",
                kind,
                draw(st.integers(1_000, 20_000)),
                litres=draw(st.floats(0.1, 3.0)) if kind in (Kind.DILUTION, Kind.TOP_UP) else None,
                grams_per_litre=draw(st.floats(10.0, 90.0)) if kind is Kind.TITRATION else None,
                carbonate_grams_per_litre=(
                    draw(st.none() | st.floats(0.0, 120.0)) if kind is Kind.TITRATION else None
                ),
                caustic_grams=draw(st.floats(5.0, 200.0)) if kind is Kind.ADDITION else None,
                entry=number + 2,
            )
        )
    return a_view(
        entries,
        draw(st.sampled_from([0.97, 0.99, 1.0, 1.01, 1.02, 1.03])),
        draw(st.integers(0, 20)),
        draw(st.sampled_from([0.0, 0.02])),
        draw(st.sampled_from([None, 9.5, 12.0])),
        draw(st.sampled_from(["tank", "swab"])),
    )


@settings(max_examples=60)
@given(ledgers())
@example(a_view([FRESH], 1.02, 19, holds_litres=10.0, way="swab"))
@example(a_view([WEAK_MAKE_UP], 1.02, 19))
@example(a_view([FRESH, titrated(30.0)], STAYS, 19))
@example(a_view([FRESH, titrated(38.0, 92.0)], 0.985, 19))
def test_the_same_day_and_facts_give_the_same_advice_everywhere(view: BathView) -> None:
    words = advice_text(view.advice)
    assert f"{'to do':<16}{words}" in bath_text(view)
    assert words in unescape(bath_report(view))
    page = BathPage(("north tank",), 0, view)
    rows = ["".join(text for text, _ in row) for row in ledger_rows(page, Moment(None), 200)]
    assert words.replace(" ", "") in "".join(rows).replace(" ", "")
    with patch("monitor.commands.bath_advise.view_of", lambda *_: view):
        done = CliRunner().invoke(command, ["advise", "north tank", "--store", "none.db"])
    if view.advice is None:
        assert done.exit_code != 0
        assert words == NOT_KNOWN
    else:
        assert done.stdout.endswith("\n".join([*advice_lines(view.advice), ""]))


@settings(max_examples=200)
@given(ledgers())
def test_no_bath_is_thrown_away_on_the_ledgers_word_alone(view: BathView) -> None:
    found, state = view.advice, view.state
    if found is None:
        return
    if found.remedy in (Remedy.REPLACE, Remedy.STRENGTHEN):
        assert state.titrated_utc_ns is not None
        assert state.grams_per_litre is not None
        assert state.grams_per_litre < FLOOR_GRAMS_PER_LITRE["caustic"]
    if found.remedy is Remedy.DILUTE and found.grams_after is not None:
        assert found.grams_after >= FLOOR_GRAMS_PER_LITRE["caustic"]
    if found.remedy is Remedy.NOTHING and state.grams_per_litre is not None:
        assert state.grams_per_litre >= FLOOR_GRAMS_PER_LITRE["caustic"]
