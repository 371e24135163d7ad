"""What is asked of supply, meter, settings and contacts, through the whole watch."""

from collections.abc import Iterable

import pytest

from monitor.model.card import JobCard, Way
from monitor.model.event import ONLY_SAID, Prompt, PromptName
from monitor.model.fittings import Conductor, Fittings
from monitor.model.leads import Leads
from monitor.model.run import LimitKind, RunFacts
from monitor.watch.vigil import Vigil
from tests.monitor.analysis.traces import sample

OF_THE_STEP = (PromptName.TIME_LIMIT, PromptName.LOOK)
WATCHED = Fittings((Conductor("sleeve", 20.0, 90.0),))


def asked(
    readings: Iterable[tuple[float, float]],
    fittings: Fittings = WATCHED,
    kind: LimitKind = LimitKind.TRIPS,
    card: JobCard | None = None,
) -> list[Prompt]:
    """The prompts over volts and amps, two a second, at a supply of 10 A."""
    vigil = Vigil(RunFacts("bench-1", "", 10.0, kind, poll_s=0.5), fittings=fittings)
    if card is not None:
        vigil.take_card(card)
    prompts: list[Prompt] = []
    for n, (volts, amps) in enumerate(readings):
        # A hundredth of an ampere of noise, so that no meter counts as coarse.
        prompts += vigil.update(sample(n, n * 0.5, volts, amps + 0.01 * (n % 3))).prompts
    return [prompt for prompt in prompts if prompt.prompt not in OF_THE_STEP]


def names(prompts: list[Prompt]) -> list[str]:
    """Their names."""
    return [prompt.prompt for prompt in prompts]


STRIP = [(8.0, 5.0)] * 80


@pytest.mark.parametrize(
    ("fittings", "is_said"),
    [(Fittings(), True), (WATCHED, False), (Fittings(leads=Leads(10, 4.0)), False)],
)
def test_heat_that_nobody_watches_is_said_once_at_the_start(
    fittings: Fittings, is_said: bool
) -> None:
    prompts = asked(STRIP, fittings)
    assert names(prompts) == [PromptName.HEAT_NOT_WATCHED] * is_said
    assert all(prompt.t_s == 0.0 for prompt in prompts)


def test_a_coarse_meter_is_said_once_with_what_it_cannot_see() -> None:
    vigil = Vigil(RunFacts("bench-1", "", 10.0, poll_s=0.5), fittings=WATCHED)
    told = [
        prompt
        for n in range(200)
        for prompt in vigil.update(sample(n, n * 0.5, 8.0, 1.0 + 0.1 * (n % 7 == 0))).prompts
        if prompt.prompt not in OF_THE_STEP
    ]
    assert names(told) == [PromptName.METER_TOO_COARSE]
    assert "steps of 0.1 A" in told[0].message
    assert "under 0.2 A cannot be seen" in told[0].message
    assert 30.0 <= told[0].t_s <= 32.0


@pytest.mark.parametrize("kind", LimitKind)
def test_a_supply_that_holds_against_its_settings_is_asked_about_once(kind: LimitKind) -> None:
    held = [(8.0 - 0.01 * n, 9.98) for n in range(80)]
    prompts = asked([(8.0, 9.0 + 0.0123 * n) for n in range(80)] + held, kind=kind)
    found = [prompt for prompt in prompts if prompt.prompt == PromptName.CHECK_SETTING]
    assert len(found) == (kind is LimitKind.TRIPS)
    assert all('at_limit = "holds"' in prompt.message for prompt in found)


def test_a_bumped_knob_and_a_part_that_comes_off_are_asked_about_each_time() -> None:
    bumped = [(6.0, 3.4)] * 40 + [(11.0, 7.4)] * 40
    told = asked(bumped * 2)
    assert names(told) == [PromptName.WAS_THAT_YOU] * 2
    assert told[0].message == "volts went from 6.0 to 11.0 V: was that you?"
    told = asked(STRIP + [(8.0, 4.0)] * 60 + [(8.0, 3.2)] * 60)
    assert names(told) == [PromptName.RESISTANCE_JUMPED] * 2
    assert told[0].message.startswith("resistance jumped: 5.0 to 4.0 A at 8.0 V")


def test_lighter_strokes_of_a_swab_are_no_part_that_comes_off() -> None:
    strokes = STRIP + [(8.0, 4.0)] * 60
    assert asked(strokes, card=JobCard(way=Way.SWAB)) == []
    # Without a card the lifts tell it: no current, with the volts up.
    lifted = [(8.0, 0.0)] * 3
    assert PromptName.RESISTANCE_JUMPED not in names(asked(lifted + strokes[50:]))


def of_a_stack(cells: int) -> list[str]:
    """What is asked where a stack of 34 cells (1.6 V each) is turned up and down."""
    volts = [volts for volts in (66.0, 70.0, 67.0, 71.0, 68.0) for _ in range(60)]
    readings = [(one, 0.5 * (one - 34 * 1.6)) for one in volts]
    return names(asked(readings, Fittings((Conductor("sleeve", 20.0, 90.0),), cells=cells)))


def test_the_number_of_cells_is_asked_for_where_no_intercept_fits_it() -> None:
    assert of_a_stack(1).count(PromptName.CHECK_CELLS) == 1
    assert PromptName.CHECK_CELLS not in of_a_stack(34)


def test_what_is_only_said_asks_for_no_hand() -> None:
    assert PromptName.WAS_THAT_YOU not in ONLY_SAID
    assert PromptName.HEAT_NOT_WATCHED in ONLY_SAID
