"""Whole screens as text: the state is in words at every size, with and without fine glyphs."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from monitor.model.alarm import State
from monitor.model.event import Prompt
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.text.prompts import PROMPT_TEXTS, prompt_text
from tests.tui import pictures
from tui.glyphs import ASCII, BLOCK, BRAILLE, SETS, Glyphs
from tui.ink import Ink, plain, width_of
from tui.moment import Moment
from tui.page import draw_live, draw_review

Make = Callable[[int, Glyphs], Moment]
SIZES = [(300, 100), (120, 40), (100, 30), (80, 24), (64, 20), (63, 19), (40, 12)]
SMALL = [(39, 12), (40, 11), (20, 5), (12, 2), (7, 1), (1, 1), (1, 50), (300, 1), (3, 3)]

SENTENCES = {
    "steady": "STEADY: no trip expected",
    "rising": "RISING: trip in about 2 min (1 to 4)",
    "cut-out": "CUT OUT: let it cool, 3:40 so far",
    "no-data": "NO DATA: no answer for 6 s",
    "limited": "LIMITED: the supply is holding 10.0 A",
    "recorder-stopped": "RECORDER STOPPED: no reading for 14 s",
    "starting": "STARTING: not enough data yet",
}


def text(moment: Moment, width: int, height: int) -> str:
    return "\n".join(plain(line) for line in draw_live(moment, width, height))


@pytest.mark.parametrize("glyphs", SETS.values(), ids=lambda g: g.name)
@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", pictures.LIVE)
def test_the_state_sentence_stands_in_plain_text(
    name: str, size: tuple[int, int], glyphs: Glyphs
) -> None:
    shown = text(pictures.LIVE[name](size[0], glyphs), *size)
    assert SENTENCES[name][: size[0] - 1] in shown.splitlines()[0]


@pytest.mark.parametrize("glyphs", SETS.values(), ids=lambda g: g.name)
@pytest.mark.parametrize("size", SIZES + SMALL, ids=str)
@pytest.mark.parametrize("draw", [draw_live, draw_review], ids=["live", "review"])
def test_every_screen_fills_every_size_exactly(
    draw: Callable[[Moment, int, int], list[tuple[tuple[str, Ink], ...]]],
    size: tuple[int, int],
    glyphs: Glyphs,
) -> None:
    moments = [make(size[0], glyphs) for make in (*pictures.LIVE.values(), pictures.review)]
    moments += [
        replace(moments[1], help_is_open=True),
        Moment(None),
        Moment(None, trouble="x" * 99),
    ]
    for moment in moments:
        lines = draw(moment, *size)
        assert len(lines) == size[1]
        assert {width_of(line) for line in lines} == {size[0]}


@pytest.mark.parametrize("size", SMALL, ids=str)
def test_below_the_smallest_size_the_state_comes_first(size: tuple[int, int]) -> None:
    first = text(pictures.rising(size[0]), *size).splitlines()[0]
    assert first.strip() == SENTENCES["rising"][: size[0]].strip()


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", pictures.LIVE)
def test_ascii_is_ascii(name: str, size: tuple[int, int]) -> None:
    shown = text(pictures.LIVE[name](size[0], ASCII), *size)
    assert shown.isascii()
    assert "?" not in shown.replace(" ? ", "")


@pytest.mark.parametrize("glyphs", [BRAILLE, BLOCK, ASCII], ids=lambda g: g.name)
def test_names_that_users_gave_stay_harmless_in_every_set(glyphs: Glyphs) -> None:
    still = pictures.steady(120, glyphs)
    assert still.view is not None
    facts = replace(pictures.FACTS, supply="b\x1b[2J\u202e[bold]", bath="Zoë 浴\x07" + "x" * 99)
    view = replace(still.view, row=pictures.row(facts=facts))
    for size in SIZES + SMALL:
        shown = draw_live(replace(still, view=view), *size)
        assert all(plain(line).isprintable() for line in shown)
        assert {width_of(line) for line in shown} == {size[0]}


@pytest.mark.parametrize("size", [(120, 40), (80, 24), (40, 12)], ids=str)
def test_the_essentials_are_there_at_every_supported_size(size: tuple[int, int]) -> None:
    shown = text(pictures.rising(size[0], ASCII), *size)
    assert "RISING" in shown
    assert "Turn down the volts" in shown
    assert "trip-expected" in shown
    assert "2 min" in shown
    assert "SPACE" in shown


def test_stale_numbers_are_dashes_and_say_how_old_the_last_ones_are() -> None:
    shown = text(pictures.stopped(80, ASCII), 80, 24)
    assert "last 9.51 A 14 s ago" in shown
    numbers = "\n".join(shown.splitlines()[9:13])
    assert "9.51" not in numbers.replace("last 9.51 A 14 s ago", "")
    assert "amps not known" in shown


def test_values_turn_to_dashes_two_polls_and_one_second_after_the_last_row() -> None:
    still = pictures.steady(80)
    assert still.view is not None
    assert isinstance(still.view.last, Sample)
    last_s = still.view.last.t_s
    limit_s = 2 * pictures.FACTS.poll_s + 1.0
    assert replace(still, now_s=last_s + limit_s - 0.01).sample is not None
    assert replace(still, now_s=last_s + limit_s + 0.01).sample is None


def test_a_screen_that_cannot_read_does_not_blame_the_recorder() -> None:
    blind = replace(pictures.stopped(80), trouble="the store does not answer")
    first = text(blind, 80, 24).splitlines()[0]
    assert "NO VIEW: the store does not answer" in first
    assert "9.51" not in text(replace(blind, glyphs=ASCII), 80, 24).splitlines()[0]


def test_trouble_is_no_alarm_while_values_are_fresh() -> None:
    still = replace(pictures.steady(80), trouble="busy for a moment")
    assert still.standing.word == "STEADY"


def test_nothing_is_coloured_until_something_is_abnormal() -> None:
    # ISA-101.01-2015: colour is reserved for what is abnormal (as quoted in secondary articles).
    greys = {Ink.PLAIN, Ink.FAINT, Ink.STRONG, Ink.KEY, Ink.ASKED, Ink.BAND}
    for make in (pictures.steady, pictures.starting, pictures.review):
        moment = replace(make(120, BRAILLE), cursor_s=None)
        inks = {ink for line in draw_live(moment, 120, 40) for _, ink in line}
        assert inks <= greys


def test_what_is_abnormal_is_told_by_words_and_signs_too() -> None:
    # WCAG 2.x, success criterion 1.4.1: colour is not the only means (from memory).
    for name, word, sign in (
        ("rising", "high", "!!"),
        ("cut-out", "critical", "!!!"),
        ("limited", "medium", "!"),
    ):
        shown = text(pictures.LIVE[name](120, ASCII), 120, 40)
        assert f"{sign} {word}: " in shown


def test_every_alarm_in_the_list_says_whether_it_is_acknowledged() -> None:
    shown = text(pictures.cut_out(120, ASCII), 120, 40)
    assert "tripped since 16:40, not acknowledged" in shown
    assert "trip-expected since 14:40, acknowledged" in shown


def test_the_last_row_names_what_the_key_acknowledges() -> None:
    assert "SPACE  acknowledge trip-expected" in text(pictures.rising(80), 80, 24).splitlines()[-1]
    seen = pictures.rising(80)
    assert seen.view is not None
    alarms = tuple(replace(event, state=State.ACKNOWLEDGED) for event in seen.view.alarms)
    quiet = replace(seen, view=replace(seen.view, alarms=alarms))
    assert quiet.waiting is None
    assert "acknowledge trip" not in text(quiet, 80, 24).splitlines()[-1]


def test_the_rise_is_explained_and_the_charge_shown_with_its_coverage() -> None:
    shown = text(pictures.rising(120), 120, 40)
    assert "The bath conducts 18 % more than at the start of this" in shown
    assert "warming explains about 12 %" in shown
    assert "Charge 1.42 Ah (99.8 % recorded)" in shown
    assert "Marks 2 at 12:40, 1 at 7:00 swab flushed" in shown


def test_the_usual_cautions_and_the_rules_stand_by_an_alarm() -> None:
    shown = text(pictures.rising(140), 140, 50)
    assert "gloves and goggles" in shown
    assert "local codes" in shown
    assert "interlock" in shown


def test_a_prompt_stands_among_the_alarms_for_a_while() -> None:
    still = pictures.steady(120)
    assert still.view is not None
    prompt = Prompt("strip-looks-finished", 2000, 400_000_000_000, "the strip looks finished")
    view = replace(still.view, prompts=(prompt,))
    assert "6:40  the strip looks finished" in text(replace(still, view=view), 120, 40)
    last = pictures.sample(2000.0, 7.2)
    later = replace(view, last=last, last_sample=last)
    assert "looks finished" not in text(replace(still, view=later, now_s=2000.1), 120, 40)


@pytest.mark.parametrize("size", [(120, 40), (80, 24), (40, 12)], ids=str)
@pytest.mark.parametrize("prompt", [*PROMPT_TEXTS, "of-a-later-version"])
def test_what_is_asked_has_its_word_what_to_do_and_the_key_that_confirms_it(
    prompt: str, size: tuple[int, int]
) -> None:
    still = pictures.steady(size[0], ASCII)
    assert still.view is not None
    asked = Prompt(prompt, 2450, 490_000_000_000, "look at the work")
    view = replace(still.view, prompts=(asked,))
    shown = text(replace(still, view=view), *size)
    assert f"{prompt_text(prompt).word}: look at the work" in shown.splitlines()[0]
    assert "DO: " in shown
    assert f"x  confirm {prompt}" in shown.splitlines()[-1]
    inks = {ink for line in draw_live(replace(still, view=view), *size) for _, ink in line}
    assert inks <= {Ink.PLAIN, Ink.FAINT, Ink.STRONG, Ink.KEY, Ink.ASKED, Ink.BAND}, "no alarm"


def test_an_alarm_covers_what_is_asked_and_both_keys_stay() -> None:
    still = pictures.rising(80, ASCII)
    assert still.view is not None
    asked = Prompt("check-wetting", 4450, 890_000_000_000, "look at the work")
    shown = text(replace(still, view=replace(still.view, prompts=(asked,))), 80, 24)
    assert shown.startswith(" RISING")
    assert "SPACE  acknowledge trip-expected" in shown.splitlines()[-1]
    assert "look at the work" in shown


def test_a_run_that_ended_says_how_to_look_at_it_again() -> None:
    ended = replace(pictures.review(80), cursor_s=None)
    assert "DO: q closes this screen. Look again: bathvigil review 12" in text(ended, 80, 24)


def test_the_help_leaves_the_state_and_what_to_do_in_sight() -> None:
    shown = text(replace(pictures.rising(80), help_is_open=True), 80, 24)
    assert "RISING: trip in about 2 min" in shown
    assert "DO: Turn down the volts" in shown
    assert "end the run: the second key within 5 seconds" in shown
    assert "the recorder goes on" in shown


def test_what_is_shown_depends_on_nothing_but_the_moment() -> None:
    assert text(pictures.rising(80), 80, 24) == text(pictures.rising(80), 80, 24)


def test_a_review_shows_the_values_at_the_cursor() -> None:
    lines = [plain(line) for line in draw_review(pictures.review(80, ASCII), 80, 24)]
    shown = "\n".join(lines)
    assert "FINISHED: run ended after 20:20 by the operator" in lines[0]
    assert "15:00" in shown
    assert ">   14:40  high alarm trip-expected raised" in shown


def test_a_run_without_any_row_can_be_shown() -> None:
    facts = RunFacts("bench-2", "scpi:/dev/ttyUSB0", 10.0)
    still = pictures.steady(80)
    assert still.view is not None
    view = replace(
        still.view,
        row=pictures.row(facts=facts),
        last=None,
        last_sample=None,
        estimate=None,
        segment=None,
    )
    assert "STARTING: waiting for the first answer" in text(
        replace(still, view=view, now_s=0.2), 80, 24
    )
