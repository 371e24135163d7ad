"""Description files: strict, and every error names the file and the key."""

from pathlib import Path

import pytest

from drivers.description import shipped_descriptions
from drivers.errors import BadDescription
from drivers.scpi.scpi_description import load_scpi_description

GOOD = """
format = 1
kind = "scpi"
title = "a supply of our own"
source = "its manual, 3rd edition"

[ratings]
volts = 12
amps = 10.0

[serial]
baud = 19200
parity = "even"

[talk]
question_ends_with = "CR LF"
answer_within_s = 0.8
quiet_ms = 20
together = "never"

[sentinel]
ask = "SYST:VERS?"
source = "page 41"

[volts]
ask = "MEAS:VOLT?"
unit = "V"
source = "page 30"

[amps]
ask = "MEAS:CURR?"
scale = 0.001
source = "page 31"

[celsius]
ask = "MEAS:TEMP?"
source = "page 32"

[[status]]
ask = "STAT:QUES:COND?"
cut_out_bits = [1, 4]
source = "page 50"
"""


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "own.toml"
    path.write_text(GOOD, encoding="utf-8")
    return path


def test_a_description_of_ones_own_is_read_by_its_path(own: Path) -> None:
    supply = load_scpi_description(str(own))
    assert supply.heading.rated_volts == 12.0
    assert supply.heading.serial.words == "19200 baud 8E1"
    assert supply.identity is None
    assert supply.sentinel.wire == b"SYST:VERS?\r\n"
    assert [quantity.name for quantity in supply.quantities] == ["volts", "amps", "celsius"]
    assert supply.quantities[1].understand("3200").value == pytest.approx(3.2)
    assert supply.quantities[1].understand("9.91E37").value is None
    assert supply.registers[0].word.cut_out == 0b10010
    assert supply.together == "never"
    assert supply.answer_within_s == 0.8
    assert supply.quiet_s == 0.02


def test_the_shipped_descriptions_are_read() -> None:
    assert "scpi-dc-supply" in shipped_descriptions()
    supply = load_scpi_description("scpi-dc-supply")
    assert supply.heading.rated_amps is None
    assert supply.sentinel == supply.identity


def test_the_shipped_description_uses_the_standards_bits() -> None:
    """SCPI-1999 volume 1, 9: QUEStionable bit 1 is CURRent, bit 4 TEMPerature."""
    register = load_scpi_description("scpi-dc-supply").registers[0]
    questionable = register.word
    assert register.question.text == "STAT:QUES:COND?"
    assert questionable.cut_out & (1 << 1)
    assert questionable.cut_out & (1 << 4)


def every_key() -> list[tuple[str, str]]:
    """Each line with a key, and the same with the key misspelt."""
    lines = [line for line in GOOD.splitlines() if " = " in line]
    return [(line, line.replace(" = ", "x = ", 1)) for line in lines]


@pytest.mark.parametrize("number", range(len(every_key())))
def test_no_key_can_be_misspelt_unseen(number: int, own: Path) -> None:
    line, misspelt = every_key()[number]
    parts = GOOD.split(line)
    for place in range(1, len(parts)):
        text = line.join(parts[:place]) + misspelt + line.join(parts[place:])
        own.write_text(text, encoding="utf-8")
        with pytest.raises(BadDescription) as caught:
            load_scpi_description(str(own))
        assert str(own) in str(caught.value)
        assert misspelt.split(" = ")[0] in str(caught.value)


@pytest.mark.parametrize(
    "table", ["ratings", "serial", "talk", "sentinel", "volts", "amps", "celsius", "status"]
)
def test_no_table_can_be_misspelt_unseen(table: str, own: Path) -> None:
    own.write_text(GOOD.replace(f"[{table}]", f"[{table}z]", 1), encoding="utf-8")
    with pytest.raises(BadDescription, match=f"{table}z|missing|needs"):
        load_scpi_description(str(own))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("format = 1", "format = 2", "newer bathvigil"),
        ("format = 1", "format = 0", "format must be at least 1, not 0"),
        ('kind = "scpi"', 'kind = "scpy"', "did you mean 'scpi'"),
        ('kind = "scpi"', 'kind = "lines"', "is for lines supplies"),
        ('title = "a supply of our own"', 'title = " "', "title must be a text"),
        ('source = "page 30"', "", "source is missing in [volts]"),
        ("baud = 19200", "baud = 3", "serial.baud must be at least 50, not 3"),
        ("baud = 19200", 'baud = "19200"', "serial.baud"),
        ("baud = 19200", "buad = 19200", "did you mean baud"),
        ("volts = 12", "volts = -12", "ratings.volts must be at least 0.1, not -12"),
        ("volts = 12", "volts = nan", "ratings.volts must be a finite number, not nan"),
        ("volts = 12", "volts = true", "must be a number"),
        ('together = "never"', 'together = "nevr"', "did you mean 'never'"),
        ('question_ends_with = "CR LF"', 'question_ends_with = "CRLF"', "did you mean"),
        ("quiet_ms = 20", "quiet_ms = 0", "talk.quiet_ms"),
        ("scale = 0.001", "scale = 0", "amps.scale must not be 0"),
        (
            "cut_out_bits = [1, 4]",
            "cut_out_bits = [16]",
            "bits[1] must be at most 15, not 16",
        ),
        ("cut_out_bits = [1, 4]", "cut_out_bits = [1, 1]", "twice"),
        ("cut_out_bits = [1, 4]", 'cut_out_bits = ["1"]', "whole number"),
        ("cut_out_bits = [1, 4]", "cut_out_bits = 1", "must be a list"),
        ("cut_out_bits = [1, 4]", "", "says nothing"),
        ("cut_out_bits = [1, 4]", 'zero_means = "off"', "output-off"),
        ("[[status]]", "[status]", "[[status]]"),
        ("[volts]", "[[volts]]", "must be a table"),
        ('ask = "MEAS:VOLT?"', 'ask = "MEAS:VOLT?;CURR?"', "one value"),
        ('ask = "MEAS:VOLT?"', 'ask = "VOLT 5"', "volts.ask cannot be asked"),
        ('ask = "MEAS:CURR?"', 'ask = "OUTP ON"', "amps.ask cannot be asked"),
        ('ask = "SYST:VERS?"', 'ask = "*RST"', "sentinel.ask cannot be asked"),
        ('ask = "STAT:QUES:COND?"', 'ask = "*TST?"', "act"),
        ('ask = "MEAS:VOLT?"', f'ask = "{"A" * 60}?"', "longer than"),
        ('[sentinel]\nask = "SYST:VERS?"\nsource = "page 41"', "", "needs [identity], or [sent"),
        ("[ratings]", "[ratings", "not a TOML file"),
    ],
)
def test_what_is_wrong_is_named(old: str, new: str, says: str, own: Path) -> None:
    assert old in GOOD
    own.write_text(GOOD.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadDescription) as caught:
        load_scpi_description(str(own))
    assert says in str(caught.value)
    assert str(own) in str(caught.value)
    assert "\n" not in str(caught.value).replace("\\n", "")


@pytest.mark.parametrize(
    "text",
    ["OUTP ON", "VOLT 5", "CURR 3", "*RST", "SYST:REM", "SYST:RWL", "*TST?", "MEAS:VOLT?", "OUTP?"],
)
def test_on_open_holds_only_what_its_narrow_list_allows(text: str, own: Path) -> None:
    more = f'\n[on_open]\nask = ["SYST:ERR?", "{text}"]\nsource = "page 9"\n'
    own.write_text(GOOD + more, encoding="utf-8")
    with pytest.raises(BadDescription, match=r"at opening only these are sent: SYST:ERR\?"):
        load_scpi_description(str(own))


def test_too_many_registers_are_refused(own: Path) -> None:
    register = '\n[[status]]\nask = "OUTP?"\nzero_means = "output-off"\nsource = "page 1"\n'
    own.write_text(GOOD + 4 * register, encoding="utf-8")
    with pytest.raises(BadDescription, match="at most 4"):
        load_scpi_description(str(own))


def test_an_unknown_name_is_told_the_nearest() -> None:
    with pytest.raises(BadDescription, match="did you mean 'scpi-dc-supply'"):
        load_scpi_description("scpi-dc-suply")


@pytest.mark.parametrize("name", ["no/such.toml", "none.toml", "../../etc/passwd"])
def test_a_file_that_is_not_there_is_named(name: str) -> None:
    with pytest.raises(BadDescription) as caught:
        load_scpi_description(name)
    assert name in str(caught.value)


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    path.write_text(GOOD + "#" * 70_000, encoding="utf-8")
    with pytest.raises(BadDescription, match="too large"):
        load_scpi_description(str(path))


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "bytes.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadDescription, match="not a TOML file"):
        load_scpi_description(str(path))
