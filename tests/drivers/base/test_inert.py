"""Text from devices and users cannot steer a terminal."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.base.inert import LIMIT, inert


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("WORKSHOP,DC-12-10,A0001,1.0", "WORKSHOP,DC-12-10,A0001,1.0"),
        ("[PS-1] [/bold]", "[PS-1] [/bold]"),
        ("\x1b]52;c;aGk=\x07", "<1B>]52;c;aGk=<07>"),  # ECMA-48: OSC, here "set clipboard"
        ("\x9b2J", "<9B>2J"),  # ECMA-48: CSI as one C1 character
        ("a\x7fb\x00", "a<7F>b<00>"),
        ("\u202egnirts\u2066", "<202E>gnirts<2066>"),  # Unicode bidirectional controls
        ("line\nline\u2028line", "line<0A>line<2028>line"),
        ("µ Ω Ä é", "µ Ω Ä é"),
    ],
)
def test_what_does_not_print_becomes_a_visible_mark(text: str, shown: str) -> None:
    assert inert(text) == shown


def test_ten_thousand_characters_are_cut() -> None:
    assert len(inert("x" * 10_000)) == LIMIT
    assert inert("x" * 10_000).endswith("...")
    assert len(inert("\x1b" * 10_000)) == LIMIT


@given(st.text())
def test_whatever_comes_out_prints_and_fits(text: str) -> None:
    shown = inert(text)
    assert shown.isprintable()
    assert len(shown) <= LIMIT


@given(st.binary())
def test_whatever_bytes_a_supply_sends_print(data: bytes) -> None:
    assert inert(data.decode("latin-1")).isprintable()
