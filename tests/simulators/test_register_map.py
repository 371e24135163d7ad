"""Register maps and speeches from their files, and what is said of wrong ones."""

import pytest

from simulators.form import FormError, parse_form
from simulators.register_map import RegisterMap, load_map, map_names, permutations
from simulators.register_word import pack
from simulators.speech import Speech, load_speech, speech_names

MAP = 'title = "x"\n[[register]]\nquantity = "volts"\naddress = 3\n'
SPEECH = 'title = "x"\n[[answer]]\nask = "V?"\nsay = "{volts:.2f}"\n'


def test_every_map_that_comes_along_can_be_used_and_has_volts_and_amps() -> None:
    assert map_names() == ["meter-on-shunt", "supply-float32", "supply-int32-cdab", "supply-uint16"]
    for name in map_names():
        quantities = [register.quantity for register in load_map(name).registers]
        assert {"volts", "amps", "serial"} <= set(quantities)


def test_every_way_to_misread_a_manual_comes_once() -> None:
    maps = list(permutations(address=16))
    # 3 addresses, 2 functions; 16 bits: 2 types, 2 orders, 4 scales; 32 bits: 2 types, 4 orders,
    # 4 scales; floats: 4 orders.
    assert len(maps) == 3 * 2 * (2 * 2 * 4 + 2 * 4 * 4 + 4)
    assert len({mapped.name for mapped in maps}) == len(maps)
    assert {mapped.registers[0].address for mapped in maps} == {15, 16, 17}
    for mapped in maps:
        volts, amps = mapped.registers
        assert amps.address == volts.address + volts.width


@pytest.mark.parametrize(
    ("number", "kind", "bits"),
    [
        (700.0, "uint16", 0xFFFF),
        (-1.0, "uint16", 0),
        (-400.0, "int16", 0x8000),
        (float("inf"), "int32", 0x7FFFFFFF),
    ],
)
def test_a_value_that_does_not_fit_stands_at_its_end(number: float, kind: str, bits: int) -> None:
    assert kind in ("uint16", "int16", "int32")
    assert pack(number, kind, 0.01) == bits  # type: ignore[arg-type]  # checked above


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (MAP.replace("volts", "volt"), "number 1 quantity: 'volt' is not possible; did you mean v"),
        (MAP + "function = 6\n", "function: 6 should be from 3 to 4"),
        (MAP + 'kind = "float23"\n', "did you mean float32?"),
        (MAP + 'kind = "text"\n', "identity, and nothing else, is of the kind text"),
        (MAP + "registers = 2\n", "says how many registers it takes"),
        (MAP + MAP.partition("\n")[2], "volts and volts lie on the same register"),
        (MAP.replace("3", "100"), "lies outside of 0 to 99"),
        (MAP + "[[hole]]\nfirst = 1\n", "[[hole]] number 1: last is missing"),
        (MAP + "[state]\n", "there is no 'state'; did you mean status?"),
        (MAP + "[status]\ncut_off = 1\n", "there is no 'cut_off'; did you mean cut_out?"),
        ("title = ", "not TOML"),
    ],
)
def test_a_wrong_map_is_named_with_its_cure(text: str, said: str) -> None:
    with pytest.raises(FormError, match="register map mine: ") as caught:
        parse_form(RegisterMap, "register map", text, "mine")
    assert said in str(caught.value)


def test_a_map_or_speech_that_is_not_there_is_named() -> None:
    with pytest.raises(FormError, match=r"did you mean supply-float32\?"):
        load_map("suply-float32")
    with pytest.raises(FormError, match=r"cannot read the register map /no/such\.toml"):
        load_map("/no/such.toml")
    with pytest.raises(FormError, match=r"did you mean talker\?"):
        load_speech("walker")
    with pytest.raises(FormError, match=r"cannot read the speech /no/such\.toml"):
        load_speech("/no/such.toml")


def test_every_speech_that_comes_along_can_be_used() -> None:
    assert speech_names() == ["asks-apart", "no-terminator", "pair-crlf", "talker"]
    for name in speech_names():
        assert load_speech(name).title


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SPEECH.replace("volts", "volt"), "there is no 'volt'; did you mean volts?"),
        (SPEECH.replace(":.2f", ""), "{volts}: cannot be written so; write it like {volts:.2f}"),
        (SPEECH.replace("volts:.2f", "status:.2f"), "write it like {status}"),
        (SPEECH.replace(":.2f", "!r"), "braces only around a place"),
        (SPEECH.replace("{volts:.2f}", "\N{DEGREE SIGN}"), "only ASCII"),
        (SPEECH.replace("x", 'x"\nevery_s = 1.0\nunasked = "', 1), "unasked and every_s go"),
        ('title = "x"\n', "needs an [[answer]], or something said unasked"),
        ('answers_end_with = "CRFL"\n' + SPEECH, "known are CR, CRLF, LF, none"),
        ("title = ", "not TOML"),
    ],
)
def test_a_wrong_speech_is_named_with_its_cure(text: str, said: str) -> None:
    with pytest.raises(FormError, match="speech mine: ") as caught:
        parse_form(Speech, "speech", text, "mine")
    assert said in str(caught.value)
