"""The job card: a few keys, last time's answers with one, and no answer is forced."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.baths.job_plan import plan_of_run
from monitor.model.card import COMES_S, STAYS_S, JobCard, Way
from monitor.model.event import Status
from monitor.model.kept_settings import baths_offered, kept_fittings
from monitor.model.request import RequestKind
from monitor.model.run import RunFacts
from monitor.model.strip_plan import Basis, Unknown
from monitor.recorder.in_force import as_settings, in_force
from monitor.recorder.plan import SupplyPlan
from monitor.settings.loading import load_bench
from monitor.store.reader import open_store
from tests.monitor.baths.test_usual_draw import BELL, jobs
from tests.monitor.store.bench import FACTS
from tests.tui import pictures
from tests.tui.stage import StillClock, StillSource, settled, shown, strike, text_of, until
from tui.card import CardScreen
from tui.form import Deed, Form, Row, corrected
from tui.glyphs import ASCII
from tui.ink import width_of
from tui.look import StoreSource
from tui.panels.card import draw_card

BEFORE = JobCard("north tank", "strip", Way.TANK, "handlebar", 4.5, 0.5, "Ada")
ALL_CHECKED = "extraction lid level goggles base-metal polarity"


def asking(before: JobCard | None = BEFORE) -> tuple[CardScreen, StillSource]:
    view = pictures.starting(80, ASCII).view
    assert view is not None
    sound = {"sound": Status("sound", 0, "SOUND NOT CHECKED: aplay", None)}
    source = StillSource(replace(view, card_before=before, statuses=sound))
    return CardScreen(source, StillClock(8.1), ASCII), source


async def test_one_key_a_line_keeps_the_card_of_last_time() -> None:
    screen, source = asking()
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        text = text_of(screen)
        assert "strip handlebar in the north tank" in text
        assert "bench-1 cuts out at 10 A" in text
        assert "hexavalent" in text
        assert "SOUND NOT CHECKED" in text
        await strike(screen, pilot, "enter", "space", "enter")
        assert "Nothing watches them." in text_of(screen)
        await strike(screen, pilot, *["enter"] * 6, "down", "enter")
        await until(pilot, lambda: bool(source.cards), "the card")
    assert source.cards == [replace(BEFORE, checked=ALL_CHECKED, reaction_s=STAYS_S)]


async def test_a_card_is_filled_in_by_plain_keys() -> None:
    screen, source = asking(None)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, "enter", "enter", "space", "space", "down", *"bell", "enter")
        await strike(screen, pilot, *"150 cm2", "enter", *"0,5", "enter", *"Q", "enter")
        # Lid and polarity: the first is taken back, the other passed over.
        await strike(
            screen,
            pilot,
            *"112", "enter", "space", "space", *["enter"] * 3, "up", "space", "down",
            *["enter"] * 3,
        )  # fmt: skip
        await strike(screen, pilot, "down", "enter", "enter")
        await until(pilot, lambda: bool(source.cards), "the card")
    checked = "extraction level goggles base-metal"
    assert source.cards == [
        JobCard("north tank", "strip", Way.SWAB, "bell", 1.5, 0.5, "Q", "112", checked, COMES_S)
    ]
    assert source.asked == [(RequestKind.SOUND_HEARD, "")]


OWN_STEPS = """
[supplies.bench-1]
address = "scpi:tcp://127.0.0.1:5025"
limit_amps = 10.0
bath = "north tank"

[baths."north tank"]
litres = 9.0
[baths."swab pot"]
litres = 0.4

[steps.degrease]
volts = [4.0, 8.0]
celsius = [40, 60]

[steps.strip]
minutes = [1, 30]
"""


@pytest.fixture
def own_facts(tmp_path: Path) -> RunFacts:
    """The facts of a run as the recorder keeps them, of a bench with steps of its own."""
    path = tmp_path / "bench.toml"
    path.write_text(OWN_STEPS, encoding="utf-8")
    bench = load_bench(path)
    fittings = bench.fittings("bench-1")
    plan = SupplyPlan(pictures.FACTS, fittings=fittings)
    settings = as_settings(in_force(plan, ()), bench.model_dump_json())
    return replace(pictures.FACTS, settings=settings)


async def test_the_shops_own_steps_and_baths_are_offered(own_facts: RunFacts) -> None:
    screen, source = asking(None)
    source.view = replace(source.view, row=pictures.row(facts=own_facts))
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        assert "Step strip: 2.5 to 12 V (default for a tank), 1 to 30 min." in text_of(screen)
        await strike(screen, pilot, "right", "enter", "space", "space")
        assert "Step degrease: 4 to 8 V, 40 to 60 C." in text_of(screen)
        await strike(screen, pilot, *["down"] * 15, "enter")
        await until(pilot, lambda: bool(source.cards), "the card")
    assert source.cards == [JobCard("swab pot", "degrease")]


def test_settings_of_old_runs_offer_the_usual_steps() -> None:
    for settings in ("{}", "[]", "no json", '{"in_force": 7, "bench": {"baths": 3}}'):
        assert [step.name for step in kept_fittings(settings).steps] == ["clean", "strip"]
        assert baths_offered(settings) == ()


async def test_escape_goes_on_without_a_card() -> None:
    screen, source = asking()
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        await strike(screen, pilot, *"qx", "escape")
    assert source.cards == []


def test_what_cannot_be_read_is_told_before_it_is_kept() -> None:
    form = corrected(None, None, "")
    form.texts[Row.AREA], form.at = "12", Row.KEEP
    assert form.press("enter") is None
    assert "150 cm2" in form.complaint
    form.texts[Row.AREA] = "12 cm2"
    assert form.press("enter") is Deed.KEEP


@pytest.mark.parametrize(
    ("area", "dm2", "thick", "micrometres"),
    [
        ("10 in2", 0.64516, "0,3", 0.3),
        ("plate 10 x 10 cm", 1.0, "Cr mp", 0.3),  # omitted means 0.3 um (ISO 1456, ASTM B456)
        ("2 domes 1 dm", 3.14159, "SC 1", 0.13),  # ASTM B456-03
        ("1.5 dm2", 1.5, "12 uin", 0.3048),
        ("150", None, "0", None),
        ("cone 5 mm", None, "300 um", None),
        ("0 cm2", None, "1e3", None),
    ],
)
def test_area_and_chromium_are_taken_by_number_shape_or_class(
    area: str, dm2: float | None, thick: str, micrometres: float | None
) -> None:
    form = Form(texts={Row.AREA: area, Row.THICKNESS: thick})
    assert form.card.area_dm2 == (None if dm2 is None else pytest.approx(dm2, rel=1e-5))
    assert form.card.micrometres == (None if dm2 is None else pytest.approx(micrometres))
    assert bool(form.complaint) is (dm2 is None)


@given(st.lists(st.sampled_from([*"aq0.,ye ", "enter", "up", "down", "left", "space", "tab"])))
def test_whatever_is_typed_the_form_stays_whole(keys: list[str]) -> None:
    form = Form(BEFORE)
    for key in keys:
        form.press(key)
        assert form.at in form.rows
        assert form.card is not None


@pytest.mark.parametrize("size", [(1, 1), (30, 4), (40, 12), (80, 24), (120, 40)])
def test_the_row_that_is_asked_is_always_in_sight(size: tuple[int, int]) -> None:
    view = pictures.starting(80, ASCII).view
    for row in Row:
        lines = draw_card(Form(BEFORE, at=row), view, None, ASCII, *size)
        assert (len(lines), {width_of(line) for line in lines}) == (size[1], {size[0]})
        if size[1] > 2 and size[0] > 4:
            assert any(line[0][0].startswith(">") for line in lines)


async def test_the_plan_of_the_job_stands_at_the_last_row(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 2.4)
    facts = replace(FACTS, supply="bench-1", limit_amps=10.0, bath="north tank", bath_litres=9.0)
    card = replace(BELL, micrometres=0.3)
    with open_store(tmp_path / "a.db") as store:
        plan = plan_of_run(store, replace(pictures.row(facts=facts), run=2), card, 25.0)
    assert plan.basis is Basis.LIKE_JOBS_AT_25
    screen, source = asking()
    source.view = replace(source.view, plan=plan)
    async with shown(screen, (80, 24)) as pilot:
        await settled(screen, pilot)
        assert "PLAN" not in text_of(screen)
        await strike(screen, pilot, "enter", "space", *["enter"] * 7)
        await strike(screen, pilot, "down")
        assert "PLAN: " in text_of(screen)
    assert source.planned[-1] == replace(BEFORE, checked=ALL_CHECKED, reaction_s=STAYS_S)


def test_the_run_itself_is_no_like_job_of_its_plan(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 2.4)
    source = StoreSource(tmp_path / "a.db", 1)
    assert source.look(None).plan is None
    source.plan_for(replace(BELL, area_dm2=None))
    plan = source.look(None).plan
    source.close()
    assert plan is not None
    assert plan.asked is None
    assert Unknown.AREA in plan.unknown
