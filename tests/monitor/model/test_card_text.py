"""A job card through a request and back; whatever else stands in a request is no card."""

from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.card import JobCard, Way
from monitor.model.card_text import card_as_text, card_from_text

FULL = JobCard("north tank", "strip#2", Way.SWAB, "bell", 1.5, 0.5, "Q", "order 112", "lid", 240.0)

CARDS = st.builds(
    JobCard,
    bath=st.text(),
    step=st.text(),
    way=st.none() | st.sampled_from(Way),
    part=st.text(),
    area_dm2=st.none() | st.floats(1e-3, 1e3),
    micrometres=st.none() | st.floats(1e-3, 1e3),
    operator=st.text(),
    reference=st.text(),
    reaction_s=st.none() | st.floats(1e-3, 3600.0),
)


def test_the_full_card_fills_every_field() -> None:
    blank = JobCard()
    assert all(getattr(FULL, one.name) != getattr(blank, one.name) for one in fields(JobCard))
    assert card_from_text(card_as_text(FULL)) == FULL


@given(card=CARDS)
def test_every_card_comes_back(card: JobCard) -> None:
    assert card_from_text(card_as_text(card)) == card


@pytest.mark.parametrize(
    "text",
    [
        "",
        "strip",
        "strip#",
        "strip#[]",
        'strip#{"way":"sideways"}',
        'strip#{"way":7}',
        'strip#{"area_dm2":"9"}',
        'strip#{"area_dm2":-1}',
        'strip#{"area_dm2":NaN}',
        'strip#{"micrometres":Infinity}',
        'strip#{"area_dm2":true}',
        'strip#{"step":1}',
        'strip#{"bath":null}',
        "strip#" + "[" * 100_000,
    ],
)
def test_what_is_no_card_is_none(text: str) -> None:
    assert card_from_text(text) is None


def test_what_a_later_card_says_besides_is_passed_over() -> None:
    assert card_from_text('#{"bath":"pot","colour":"blue"}') == JobCard("pot")
