"""`commission` end to end on pseudo-terminals: the file that it writes is what the driver reads."""

import sys
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.clock import SystemClock
from drivers.driver import DriverSetUp
from drivers.modbus_description import load_modbus_description
from drivers.reading import Mode
from drivers.registry import open_driver
from monitor.commands.main import run
from tests.drivers.fake_end import PtyEnd
from tests.drivers.fake_supply import FakeSupply
from tests.monitor.commissioning.ends import MindingSupply, RegisterSupply

SETTINGS = (("12.04", "5.37"), ("7.51", "3.18"))
WORDS = ["--operator", "Jo", "--title", "Old supply", "--source", "manual, page 12"]
PANEL = [word for setting in SETTINGS for word in ("--panel", *setting)]
QUICK = ["--timeout-s", "0.06"]
STATE = "(?P<status>[A-Za-z]+)"


@dataclass
class Bench:
    """Somebody at the front panel: each Enter comes when the next setting is there.

    Parameters
    ----------
    states
        What is done after the settings, one at each Enter.
    """

    turn: Callable[[str, str], None]
    settings: tuple[tuple[str, str], ...] = SETTINGS
    states: tuple[Callable[[], None], ...] = ()
    turned: int = 0

    def readline(self) -> str:
        turned, self.turned = self.turned, self.turned + 1
        if turned < len(self.settings):
            self.turn(*self.settings[turned])
        elif turned < len(self.settings) + len(self.states):
            self.states[turned - len(self.settings)]()
        else:
            return ""
        return "\n"

    def isatty(self) -> bool:
        return False


def modbus(function: int = 4) -> tuple[RegisterSupply, Callable[[str, str], None]]:
    """Thousandths of volts and amps in int32, low word first, one place beside the manual."""
    supply = RegisterSupply(unit=5)
    table = supply.holding if function == 3 else supply.inputs
    table.update({place: 50_000 + place for place in range(9, 16)})

    def turn(volts: str, amps: str) -> None:
        for place, text in ((10, volts), (12, amps)):
            raw = round(float(text) * 1000)
            table[place], table[place + 1] = raw & 0xFFFF, raw >> 16

    turn("1.00", "1.00")
    return supply, turn


def commission(monkeypatch: pytest.MonkeyPatch, bench: Bench, *line: str) -> int:
    monkeypatch.setattr(sys, "stdin", bench)
    return run(["commission", *line])


def test_a_modbus_supply_is_commissioned_and_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = modbus()
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        address = f"modbus:{end.path}?unit=5&parity=none"
        code = commission(
            monkeypatch, Bench(turn), address, "--to", str(file), *WORDS, *PANEL, *QUICK,
            "--volts-at", "30012", "--amps-at", "30014", "--type", "int32", "--order", "cdab",
        )  # fmt: skip
        told = capsys.readouterr()
        assert code == 0, told.err
        assert told.out == f"{file}\n"
        driver = open_driver(
            DriverSetUp(parse_address(address), SystemClock(), 0.2, description=str(file))
        )
        driver.open()
        reading = driver.read()
        driver.close()
    assert (reading.volts, reading.amps) == (7.51, 3.18)
    assert "wire address 10 (manual 30011)" in told.err
    description = load_modbus_description(str(file))
    assert description.volts.place.words == "function 4, address 10 (30011 in a manual)"
    made = description.heading.commissioned
    assert made is not None
    assert made.operator == "Jo"
    assert made.date.startswith("20")
    assert "30012 in the manual, taken as wire address 11" in made.choice
    raw = [one for one in made.seen if "7.51 V, 3.18 A" in one.shown]
    assert raw[0].raw.startswith("05 04")
    assert "(30011 to" in raw[0].asked
    assert f"{7510:04x}" in raw[0].raw.replace(" ", "")


STATED = (
    "--volts-at", "40011", "--amps-at", "40013", "--type", "int32", "--order", "CDAB",
    "--status-at", "40015", "--states", "off, CV, CC", "--cut-out-by", "bit 5",
)  # fmt: skip


def states(supply: RegisterSupply, *values: int) -> tuple[Callable[[], None], ...]:
    """The status register (14 on the wire) as it is in one state after the other."""
    return tuple(lambda value=value: supply.holding.update({14: value}) for value in values)


def test_the_states_are_shown_and_the_cut_out_is_taken_from_the_manual(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = modbus(function=3)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        address = f"modbus:{end.path}?unit=5&parity=none"
        bench = Bench(turn, states=states(supply, 0x00, 0x11, 0x12))
        line = (address, "--to", str(file), *WORDS, *PANEL, *QUICK, *STATED)
        assert commission(monkeypatch, bench, *line) == 0
        told = capsys.readouterr().err
        modes = []
        driver = open_driver(
            DriverSetUp(parse_address(address), SystemClock(), 0.2, description=str(file))
        )
        driver.open()
        for status in (0x00, 0x11, 0x12, 0x91):
            supply.holding[14] = status
            modes.append(driver.read().mode)
        turn("0.00", "0.00")
        supply.holding[14] = 0x20
        modes.append(driver.read().mode)
        driver.close()
    assert "output-off: 0 (bits none)\n  constant-voltage: 17 (bits 0, 4)" in told
    assert "the cut-out is taken from the manual: it was not shown" in told
    assert "with no part in the bath that could suffer" in told
    cv, cc = Mode.CONSTANT_VOLTAGE, Mode.CONSTANT_CURRENT
    assert modes == [Mode.OUTPUT_OFF, cv, cc, cv, Mode.CUT_OUT]
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    status = made["status"]
    assert (status["address"], status["manual"], status["zero_means"]) == (14, 40015, "output-off")
    assert (status["constant_voltage_bits"], status["cut_out_bits"]) == ([0], [5])
    shown = [one["shown"] for one in made["commissioned"]["seen"]]
    assert shown[-3:] == ["output-off", "constant-voltage", "constant-current"]


@pytest.mark.parametrize(
    ("read", "says"),
    [
        ((0x11, 0x11, 0x12), "no bit is set in output-off only"),
        ((0x00, 0x21, 0x02), "by the manual bit 5 says that the supply has cut out"),
        ((0x00, 0x11), "nobody pressed Enter"),
    ],
)
def test_states_that_were_not_told_apart_write_nothing(
    read: tuple[int, ...],
    says: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    supply, turn = modbus(function=3)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"modbus:{end.path}?unit=5&parity=none", "--to", str(file), *WORDS, *PANEL, *QUICK)
        bench = Bench(turn, states=states(supply, *read))
        assert commission(monkeypatch, bench, *line, *STATED) in (1, 2)
    assert says in capsys.readouterr().err
    assert not file.exists()


def test_states_that_cannot_be_shown_are_refused_before_the_port_is_touched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = modbus(function=3)
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"modbus:{end.path}", "--to", str(tmp_path / "m.toml"), *WORDS, *PANEL, *STATED)
        assert commission(monkeypatch, Bench(turn), *line, "--states", "CV") == 2
        assert commission(monkeypatch, Bench(turn), *line, "--cut-out-by", "red lamp") == 2
    told = capsys.readouterr().err
    assert "name two or more different ones" in told
    assert "type it like 'bit 5' or 'value 4'" in told
    assert supply.received == []


def test_a_temperature_is_held_against_what_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its type is its own: volts and amps are int32 here."""
    supply, turn = modbus(function=3)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        address = f"modbus:{end.path}?unit=5&parity=none"
        line = (address, "--to", str(file), *WORDS, *PANEL, *QUICK, *STATED[:8])
        line += ("--celsius-at", "40015")
        assert commission(monkeypatch, Bench(turn), *line) == 2
        assert "Give --panel-celsius C twice" in capsys.readouterr().err
        line += ("--panel-celsius", "21.5", "--panel-celsius", "21.6")
        supply.holding[14] = 900
        assert commission(monkeypatch, Bench(turn), *line) == 1
        told = capsys.readouterr().err
        assert "no way of reading the register at 14 gives the temperature" in told
        supply.holding[14] = 215
        assert commission(monkeypatch, Bench(turn), *line) == 0
        assert "21.5 C" in capsys.readouterr().err
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert (made["celsius"]["address"], made["celsius"]["manual"]) == (14, 40015)
    assert made["commissioned"]["seen"][0]["shown"] == "12.04 V, 5.37 A, 21.5 C"


def test_what_is_ambiguous_writes_nothing_and_says_what_would_tell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = modbus(function=3)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"modbus:{end.path}?unit=5&parity=none", "--to", str(file),
            *WORDS, *PANEL, *QUICK, "--volts-at", "40011", "--amps-at", "40013",
        )  # fmt: skip
    assert code == 1
    assert "Say what the manual says: --type" in capsys.readouterr().err
    assert not file.exists()


@pytest.mark.parametrize(("serial", "code"), [((7, 42), 0), ((0, 0), 1)])
def test_a_serial_number_is_kept_as_the_identity(
    serial: tuple[int, int],
    code: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    supply, turn = modbus(function=3)
    supply.holding[64], supply.holding[65] = serial
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        found = commission(
            monkeypatch, Bench(turn), f"modbus:{end.path}?unit=5&parity=none", "--to", str(file),
            *WORDS, *PANEL, *QUICK, "--volts-at", "40011", "--amps-at", "40013", "--type", "int32",
            "--order", "CDAB", "--identity-at", "40065",
        )  # fmt: skip
    assert found == code
    if code:
        assert "holds no serial number" in capsys.readouterr().err
        return
    identity = tomllib.loads(file.read_text(encoding="utf-8"))["identity"]
    assert (identity["address"], identity["manual"], identity["registers"]) == (64, 40065, 2)


def test_answers_come_from_a_file_and_flags_come_before_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    supply, turn = modbus(function=3)
    file, answers = tmp_path / "mine.toml", tmp_path / "answers.toml"
    panel = "".join(f"[[panel]]\nvolts = '{v}'\namps = {a}\n" for v, a in SETTINGS)
    answers.write_text(
        "operator = 'Jo'\ntitle = 'Old'\nsource = 'p. 1'\nvolts_at = 40011\namps_at = 40013\n"
        f"type = 'int16'\nrated_volts = 15\nrated_amps = 20\n{panel}",
        encoding="utf-8",
    )
    with PtyEnd(supply, tmp_path / "port") as end:
        line = [
            f"modbus:{end.path}?unit=5&parity=none",
            "--to",
            str(file),
            "--answers",
            str(answers),
        ]
        code = commission(monkeypatch, Bench(turn), *line, "--type", "uint32", "--order", "CDAB",
                          *QUICK)  # fmt: skip
    assert code == 0
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert made["volts"]["type"] == "uint32"
    assert made["ratings"] == {"volts": 15.0, "amps": 20.0}
    assert made["serial"]["parity"] == "none"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("operater = 'Jo'", "did you mean 'operator'"),
        ("operator = [1]", "must be a text"),
        ("[[panel]]\nvolts = 1", "holds volts and amps"),
        ("operator = ", "not a TOML file"),
    ],
)
def test_a_wrong_file_of_answers_is_told(
    text: str, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = tmp_path / "answers.toml"
    answers.write_text(text, encoding="utf-8")
    line = ["commission", "modbus:/dev/null", "--to", "x.toml", "--answers", str(answers)]
    assert run(line) == 2
    assert says in capsys.readouterr().err


def lines_supply(
    asked_with: bytes, answered_with: bytes
) -> tuple[MindingSupply, Callable[[str, str], None]]:
    answers: dict[str, str] = {"SN": "PS-0042"}
    supply = MindingSupply(asked_with=asked_with, answered_with=answered_with, answers=answers)

    def turn(volts: str, amps: str) -> None:
        answers["V?"] = f"V={float(volts):05.2f}"
        answers["I?"] = f"I={float(amps):.3f}A CV"

    turn("1.00", "1.00")
    return supply, turn


@pytest.mark.parametrize(
    ("asked_with", "answered_with"), [(b"\r", b"\r\n"), (b"\n", b"\n"), (b"", b"")]
)
def test_a_plain_line_supply_is_commissioned_and_read(
    asked_with: bytes,
    answered_with: bytes,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    supply, turn = lines_supply(asked_with, answered_with)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"lines:{end.path}", "--to", str(file), *WORDS, *PANEL,
            "--timeout-s", "0.1", "--ask-volts", "V?", "--ask-amps", "I?", "--ask-identity", "SN",
        )  # fmt: skip
    told = capsys.readouterr().err
    assert code == 0, told
    assert "read by it now: 7.51 V, 3.18 A" in told
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert [one["pattern"] for one in made["answer"]] == [
        r"V=(?P<volts>[+-]?[0-9]{2}\.[0-9]{2})",
        r"I=(?P<amps>[+-]?[0-9]+\.[0-9]{3})A\ " + (STATE if answered_with else "CV"),
    ]
    assert ("7.51 V, 3.18 A, constant-voltage" in told) == bool(answered_with)
    assert made["talk"]["question_ends_with"] == {b"\r": "CR"}.get(asked_with, "LF")
    assert bytes.fromhex(made["commissioned"]["seen"][-2]["raw"]).startswith(b"V=07.51")


@pytest.mark.parametrize(("word", "code"), [("CC", 0), ("HUMMING", 1)])
def test_a_question_of_its_own_for_the_state_is_understood_or_told(
    word: str,
    code: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    supply, turn = lines_supply(b"\r", b"\r\n")
    answers = dict(supply.answers)
    supply.answers = answers

    def turn_too(volts: str, amps: str) -> None:
        turn(volts, amps)
        answers.update({"V?": f"V={float(volts):05.2f}", "I?": f"I={float(amps):.3f}A CV"})

    answers["READ"] = f"STATE {word}"
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        found = commission(
            monkeypatch, Bench(turn_too), f"lines:{end.path}", "--to", str(file), *WORDS, *PANEL,
            *QUICK, "--ask-volts", "V?", "--ask-amps", "I?", "--ask-state", "READ",
        )  # fmt: skip
    told = capsys.readouterr().err
    assert found == code, told
    if code:
        assert "no word in 'STATE HUMMING' is one for a state" in told
        return
    assert "read by it now: 7.51 V, 3.18 A, constant-current" in told
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert made["answer"][2]["pattern"] == rf"STATE\ {STATE}"
    assert made["status"]["output_off"] == ["OFF"]


def test_a_state_is_not_read_out_of_answers_without_an_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = lines_supply(b"", b"")
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"lines:{end.path}", "--to", str(tmp_path / "m.toml"),
            *WORDS, *PANEL, *QUICK, "--ask-volts", "V?", "--ask-amps", "I?", "--ask-state", "READ",
        )  # fmt: skip
    assert code == 1
    assert "leave the question for the state out" in capsys.readouterr().err
    assert not (tmp_path / "m.toml").exists()


def test_a_question_that_could_set_something_is_refused_before_a_byte_is_sent(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    supply, turn = lines_supply(b"\n", b"\n")
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"lines:{end.path}", "--to", str(tmp_path / "m.toml"),
            *WORDS, *PANEL, "--ask-volts", "VSET 12", "--ask-amps", "I?",
        )  # fmt: skip
    assert code == 2
    assert supply.received == []


def test_a_scpi_supply_is_commissioned_and_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply = FakeSupply(joins=False, lacks=frozenset({"STAT:OPER:COND?"}))

    def turn(volts: str, amps: str) -> None:
        supply.volts, supply.amps = volts, amps

    turn("1.00", "1.00")
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(turn), f"scpi:{end.path}?quiet_ms=10", "--to", str(file), *WORDS,
            *PANEL, "--rated-volts", "15", "--timeout-s", "0.1",
        )  # fmt: skip
        told = capsys.readouterr().err
        assert code == 0, told
        assert run(["check", f"scpi:{end.path}", "--description", str(file)]) == 0
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    assert made["talk"]["together"] == "never"
    assert [one["ask"] for one in made["status"]] == ["STAT:QUES:COND?", "OUTP?"]
    assert made["ratings"] == {"volts": 15.0}


def test_a_scpi_supply_that_says_another_value_than_its_panel_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply = FakeSupply(volts="11.00", amps="5.37")
    with PtyEnd(supply, tmp_path / "port") as end:
        code = commission(
            monkeypatch, Bench(lambda volts, amps: None), f"scpi:{end.path}?quiet_ms=10",
            "--to", str(tmp_path / "mine.toml"), *WORDS, *PANEL, "--timeout-s", "0.1",
        )  # fmt: skip
    assert code == 1
    assert "says 11 for volts where its panel shows 12.04" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (["modbus:/dev/null", "--to", "mine.toml"], "Your name? Give --operator"),
        (["modbus:/dev/null", "--to", "m.toml", *WORDS], "Register of the measured volts"),
        (["other:/dev/null", "--to", "mine.toml"], "cannot be commissioned"),
        (["/dev/null", "--to", "mine.toml"], "not a supply's address"),
        (["modbus:/dev/null"], "--to"),
    ],
)
def test_wrong_use_is_told(
    line: list[str], says: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert commission(monkeypatch, Bench(lambda volts, amps: None), *line) in (1, 2)
    assert says in capsys.readouterr().err


def test_a_file_that_is_there_is_not_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("precious", encoding="utf-8")
    assert run(["commission", "modbus:/dev/null", "--to", str(file)]) == 2
    assert "--replace" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "precious"
