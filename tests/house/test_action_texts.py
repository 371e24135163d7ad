"""Every text that tells a hand what to do: the deed first, short, with the output off.

Output off before the part is taken out, because of hydrogen explosions: Metal Finishing Guidebook
2011-12, cleaning safety, p. 73.
"""

import re
from dataclasses import replace

import pytest

from monitor.model.advice import Advice, Reason, Remedy
from monitor.text.alarms import ALARM_TEXTS
from monitor.text.bath_advice import deed
from monitor.text.prompts import PROMPT_TEXTS

MOST_WORDS = 12
"""Of the first sentence: readable in three seconds (common practice, no source)."""
TOUCHES = re.compile(
    r"\b(lift|separate|flush|clean|pour|draw off|add \d|take a sample|rinse it|unhook|tighten)\b",
    re.IGNORECASE,
)
"""Where hands go to the part, a swab, a clip, a lead or the solution."""
ADVICE = Advice(
    Remedy.NOTHING,
    Reason.FAR_FROM_LIMIT,
    water_litres=1.2,
    drawn_litres=1.0,
    caustic_grams=90.0,
    is_warm=True,
)
TEXTS = {
    **{f"alarm {name}": text.action for name, text in ALARM_TEXTS.items()},
    **{f"prompt {name}": text.to_do for name, text in PROMPT_TEXTS.items()},
    **{f"bath: {remedy.value}": deed(replace(ADVICE, remedy=remedy)) for remedy in Remedy},
}


@pytest.mark.parametrize("name", TEXTS)
def test_an_action_begins_with_a_short_deed(name: str) -> None:
    first = re.split(r"(?<=[.?])\s", TEXTS[name])[0]
    assert len(first.split()) <= MOST_WORDS, first


@pytest.mark.parametrize("name", TEXTS)
def test_the_output_is_off_before_hands_go_in(name: str) -> None:
    if TOUCHES.search(TEXTS[name]):
        assert TEXTS[name].startswith("Output OFF"), TEXTS[name]


@pytest.mark.parametrize("name", TEXTS)
def test_an_action_calls_things_by_the_names_of_the_bench(name: str) -> None:
    # In this work the part is the anode, so "anode" and "cathode" tell nobody which is which.
    assert not re.search(r"\b(anode|cathode|workpiece)\b", TEXTS[name], re.IGNORECASE)
