"""`commission` end to end on pseudo-terminals: the file that it writes is what the driver reads."""

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import DriverSetUp
from drivers.modbus.modbus_description import load_modbus_description
from drivers.reading import Mode
from drivers.registry import open_driver
from monitor.commands.main import run
from tests.drivers.fake_end import PtyEnd
from tests.monitor.setup.commission.ends import RegisterSupply
from tests.monitor.setup.commission.panel import (
    PANEL,
    QUICK,
    SETTINGS,
    WORDS,
    Bench,
    commission,
    modbus,
)


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


def states(
    supply: RegisterSupply, turn: Callable[[str, str], None], *values: int
) -> tuple[Callable[[], None], ...]:
    """The status register (14 on the wire) in one state after the other; the first one is off."""

    def bring_about(number: int, value: int) -> None:
        turn("7.51", "0.00" if number == 0 else "3.18")
        supply.holding[14] = value

    return tuple(
        lambda number=number, value=value: bring_about(number, value)
        for number, value in enumerate(values)
    )


def test_the_states_are_shown_and_the_cut_out_is_taken_from_the_manual(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = modbus(function=3)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        address = f"modbus:{end.path}?unit=5&parity=none"
        bench = Bench(turn, states=states(supply, turn, 0x00, 0x11, 0x12))
        line = (address, "--to", str(file), *WORDS, *PANEL, *QUICK, *STATED)
        assert commission(monkeypatch, bench, *line) == 0
        told = capsys.readouterr().err
        modes = []
        driver = open_driver(
            DriverSetUp(parse_address(address), SystemClock(), 0.2, description=str(file))
        )
        driver.open()
        for status in (0x00, 0x11, 0x12, 0x91):
            turn("7.51", "0.00" if status == 0x00 else "3.18")
            supply.holding[14] = status
            modes.append(driver.read().mode)
        supply.holding[14] = 0x00  # "off", and current flows
        modes.append(driver.read().mode)
        turn("0.00", "0.00")
        supply.holding[14] = 0x20
        modes.append(driver.read().mode)
        driver.close()
    assert "output-off: 0 (bits none)\n  constant-voltage: 17 (bits 0, 4)" in told
    assert "the cut-out is taken from the manual: it was not shown" in told
    assert "in the bath that could be damaged" in told
    cv, cc = Mode.CONSTANT_VOLTAGE, Mode.CONSTANT_CURRENT
    assert modes == [Mode.OUTPUT_OFF, cv, cc, cv, Mode.UNKNOWN, Mode.CUT_OUT]
    made = tomllib.loads(file.read_text(encoding="utf-8"))
    status = made["status"]
    assert (status["address"], status["manual"], status["zero_means"]) == (14, 40015, "output-off")
    assert (status["constant_voltage_bits"], status["cut_out_bits"]) == ([0], [5])
    shown = [one["shown"] for one in made["commissioned"]["seen"]]
    assert shown[-3:] == ["output-off", "constant-voltage", "constant-current"]


def test_a_state_that_volts_and_amps_contradict_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    supply, turn = modbus(function=3)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"modbus:{end.path}?unit=5&parity=none", "--to", str(file), *WORDS, *PANEL, *QUICK)
        still_on = tuple(lambda value=value: supply.holding.update({14: value}) for value in (0, 1))
        assert commission(monkeypatch, Bench(turn, states=still_on), *line, *STATED) == 1
    told = capsys.readouterr().err
    assert "should be output-off now, but gives 7.51 V and 3.18 A" in told
    assert not file.exists()


@pytest.mark.parametrize(
    ("read", "code", "says"),
    [
        ((0x11, 0x11, 0x12), 1, "no bit is set in output-off only"),
        ((0x00, 0x21, 0x02), 1, "by the manual bit 5 says that the supply has cut out"),
        ((0x00, 0x11), 2, "nobody pressed Enter"),
    ],
)
def test_states_that_were_not_told_apart_write_nothing(
    read: tuple[int, ...],
    code: int,
    says: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    supply, turn = modbus(function=3)
    file = tmp_path / "mine.toml"
    with PtyEnd(supply, tmp_path / "port") as end:
        line = (f"modbus:{end.path}?unit=5&parity=none", "--to", str(file), *WORDS, *PANEL, *QUICK)
        bench = Bench(turn, states=states(supply, turn, *read))
        assert commission(monkeypatch, bench, *line, *STATED) == code
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
        ("operater = 'Jo'", "did you mean operator"),
        ("operator = [1]", "must be a text"),
        ("[[panel]]\nvolts = 1", "amps is missing in [[panel]] number 1"),
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
