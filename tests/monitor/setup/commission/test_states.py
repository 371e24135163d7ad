"""What a status register means, from what it held in states that were shown: the numbered rules."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.mode_bits import StatusBitsOrValues
from drivers.reading import Mode
from monitor.base.errors import WrongUse
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.states import (
    STATES,
    find_states,
    read_cut_out,
    read_states,
    what_was_read,
)
from monitor.setup.commission.toml_text import toml_text

CV, CC, OFF, OUT = (
    Mode.CONSTANT_VOLTAGE,
    Mode.CONSTANT_CURRENT,
    Mode.OUTPUT_OFF,
    Mode.CUT_OUT,
)


@pytest.mark.parametrize(
    ("text", "modes"),
    [("off, CV", (OFF, CV)), ("constant current,cut-out", (CC, OUT)), ("CV,CC,off", (CV, CC, OFF))],
)
def test_states_are_named_in_short_or_in_full(text: str, modes: tuple[Mode, ...]) -> None:
    assert read_states(text) == modes


@pytest.mark.parametrize("text", ["", "CV", "CV, CV", "CV, sleeping"])
def test_rule_1_two_different_known_states_are_needed(text: str) -> None:
    with pytest.raises(WrongUse):
        read_states(text)


def test_rule_2_whole_values_tell_states_apart() -> None:
    assert find_states({OFF: [0, 0], CV: [1, 1], CC: [2, 2]}) == {
        "output_off_values": [0],
        "constant_voltage_values": [1],
        "constant_current_values": [2],
    }


def test_rule_2_a_value_that_two_states_share_tells_nothing() -> None:
    with pytest.raises(NotCommissioned, match=r"no bit is set in constant-voltage only"):
        find_states({CV: [5, 5], CC: [5, 5]})
    with pytest.raises(NotCommissioned, match="do not tell the states apart"):
        find_states({CV: [5, 5], CC: [5, 5]}, by="values")


def test_rule_3_bits_tell_states_apart_where_values_change_by_themselves() -> None:
    """Bit 7 blinks; bits 0 and 1 are the states'."""
    assert find_states({CV: [0x01, 0x81, 0x01], CC: [0x82, 0x02, 0x82]}) == {
        "constant_voltage_bits": [0],
        "constant_current_bits": [1],
    }


def test_rule_3_two_bits_of_one_state_are_ambiguous_until_another_state_is_shown() -> None:
    read = {OFF: [0, 0], CV: [0b101, 0b101]}
    with pytest.raises(Ambiguous, match="bits 0 and 2 are both set in constant-voltage only"):
        find_states(read, by="bits")
    assert find_states(read | {CC: [0b110, 0b110]}, by="bits") == {
        "zero_means": "output-off",
        "constant_voltage_bits": [0],
        "constant_current_bits": [1],
    }


def test_rule_4_only_off_can_be_told_by_nothing_being_set() -> None:
    with pytest.raises(NotCommissioned, match="no bit is set in constant-voltage only"):
        find_states({CV: [0, 0], CC: [4, 4]}, by="bits")


def test_rule_5_the_cut_out_is_taken_from_the_manual() -> None:
    assert read_cut_out(" Bit 5") == ("bits", 5)
    assert read_cut_out("") is None
    found = find_states({CV: [1, 1], CC: [2, 2]}, cut_out=("bits", 5))
    assert found["cut_out_bits"] == [5]
    assert found["constant_voltage_bits"] == [0]
    found = find_states({CV: [1, 1], CC: [2, 2]}, cut_out=("values", 4))
    assert found["cut_out_values"] == [4]


@pytest.mark.parametrize(
    ("read", "cut_out"),
    [
        ({CV: [0x21, 0x21], CC: [2, 2]}, ("bits", 5)),
        ({CV: [1, 1], CC: [4, 4]}, ("values", 4)),
        ({CV: [1, 1], OUT: [8, 8]}, ("values", 4)),
    ],
)
def test_rule_5_what_was_seen_otherwise_is_refused(
    read: dict[Mode, list[int]], cut_out: tuple[str, int]
) -> None:
    with pytest.raises(NotCommissioned, match="says that the supply has cut out"):
        find_states(read, None, read_cut_out(f"{cut_out[0][:-1]} {cut_out[1]}"))


@pytest.mark.parametrize("text", ["bit 16", "value 65536", "5", "bit", "bits 5"])
def test_what_the_manual_cannot_say_is_refused(text: str) -> None:
    with pytest.raises(WrongUse):
        read_cut_out(text)


def test_the_bits_are_shown_by_state() -> None:
    assert what_was_read({OFF: [0, 0], CV: [5, 4]}) == (
        "output-off: 0 (bits none)\n  constant-voltage: 5 (bits 0, 2) or 4 (bits 2)"
    )


@given(st.dictionaries(st.sampled_from(list(STATES)), st.integers(0, 0xFFFF), min_size=2))
def test_what_is_found_reads_every_shown_state_as_what_it_was(shown: dict[Mode, int]) -> None:
    """A cut-out is believed at a dead output only, so is the output taken to be here."""
    try:
        found = find_states({mode: [value, value] for mode, value in shown.items()})
    except NotCommissioned:
        assert len(set(shown.values())) < len(shown)
        return
    word = StatusBitsOrValues.model_validate(tomllib.loads(toml_text(found))).word()
    for mode, value in shown.items():
        assert word.mode(value, dead=mode in (OUT, OFF)) is mode
