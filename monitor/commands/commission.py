"""`bathvigil commission`: the description of your own supply, compared with its panel."""

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import click

from drivers.address import Address, parse_address
from drivers.base.clock import SystemClock
from drivers.base.inert import inert
from drivers.base.timeout import TIMEOUT_S, TimeoutS
from drivers.driver import DriverSetUp
from drivers.lines.lines_description import load_lines_description
from drivers.link.link import Link, after
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import SerialSettings
from drivers.link.shared_link import frame_gap_s
from drivers.modbus.modbus_description import load_modbus_description
from drivers.options import all_options, read_options
from drivers.registry import open_driver
from drivers.scpi.scpi_description import load_scpi_description
from monitor.base.errors import WrongUse
from monitor.commands.options import examples, range_of, together
from monitor.setup.commission.answers import (
    MAY_BE_EMPTY,
    QUESTIONS,
    PanelShown,
    Prepared,
    read_answers,
)
from monitor.setup.commission.asking_registers import AskingRegisters
from monitor.setup.commission.endings import PATIENCE_S
from monitor.setup.commission.lines_session import commission_lines
from monitor.setup.commission.made import Made, describe, keep, read_ratings
from monitor.setup.commission.modbus_session import commission_modbus
from monitor.setup.commission.scpi_session import commission_scpi
from monitor.setup.commission.status_session import read_state_asked

CONNECT_S = 3.0
LOADERS: dict[str, Callable[[str], object]] = {
    "modbus": load_modbus_description,
    "lines": load_lines_description,
    "scpi": load_scpi_description,
}
_NEEDED = {
    "modbus": ("volts_at", "amps_at", "celsius_at", "identity_at", "status_at"),
    "lines": ("ask_volts", "ask_amps", "ask_state", "ask_identity"),
    "scpi": (),
}
_SERIAL = {"modbus": SerialSettings(parity="even"), "lines": SerialSettings()}


def _answers(function: Callable[..., int]) -> Callable[..., int]:
    """An option for each question that can be answered beforehand."""
    options = [
        click.option(f"--{key.replace('_', '-')}", key, metavar="TEXT", help=words)
        for key, words in QUESTIONS.items()
    ]
    return together(*options)(function)


@click.command(
    "commission",
    epilog=examples(
        "bathvigil commission 'modbus:/dev/ttyUSB0?unit=1&baud=9600' --to mine.toml",
        "bathvigil commission scpi:/dev/ttyUSB0 --to mine.toml",
        "bathvigil commission 'modbus:/dev/ttyUSB0?unit=1' --to mine.toml --volts-at 40001 "
        "--amps-at 40002 --status-at 40003 --states 'off, CV' --cut-out-by 'bit 5'",
        "bathvigil commission lines:/dev/ttyUSB0 --to mine.toml --ask-volts 'V?' --ask-amps 'I?'",
    ),
)
@click.argument("address")
@click.option(
    "--to",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="The description to write, such as mine.toml.",
)
@click.option(
    "--answers",
    "answers_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="A TOML file with the answers: keys as the options below, [[panel]] with volts and amps.",
)
@click.option(
    "--panel",
    nargs=2,
    multiple=True,
    metavar="V A",
    help="Give twice: what the panel will show at each setting. Press Enter when it does.",
)
@click.option(
    "--panel-celsius",
    multiple=True,
    metavar="C",
    help="With --celsius-at, give twice: the temperature at each setting.",
)
@_answers
@click.option(
    "--timeout-s",
    type=range_of(TimeoutS),
    default=PATIENCE_S,
    show_default=True,
    metavar="S",
    help="The longest wait for one answer.",
)
@click.option("--replace", "may_replace", is_flag=True, help="Overwrite an existing file.")
def command(
    address: str,
    to: Path,
    answers_file: Path | None,
    panel: tuple[tuple[str, str], ...],
    timeout_s: float,
    may_replace: bool,
    panel_celsius: tuple[str, ...],
    **given: str | None,
) -> int:
    """Describe the supply at ADDRESS (modbus:, lines: or scpi:), compared with its panel.

    You turn the volts on the supply's own panel twice, and type what it shows. The program only
    asks; it sets nothing. It writes the file only if exactly one way to read the answers fits both
    settings. Let the supply deliver into a load: the bath. For Modbus it measures how soon the
    supply takes the next question. To a supply that sends unasked it only listens: give no
    questions.
    """
    parsed = parse_address(address)
    if parsed.driver not in LOADERS:
        can = ", ".join(sorted(LOADERS))
        raise WrongUse(f"{parsed.driver} cannot be commissioned; these can: {can}")
    if to.exists() and not may_replace:
        raise WrongUse(f"{to} is there already: name another file, or add --replace")
    prepared = read_answers(answers_file) if answers_file is not None else Prepared()
    flags = {key: value for key, value in given.items() if value is not None}
    if panel_celsius and len(panel_celsius) != len(panel):
        raise WrongUse("--panel-celsius goes with --panel V A: give each of them twice")
    settings = tuple(
        PanelShown(volts, amps, panel_celsius[place] if panel_celsius else "")
        for place, (volts, amps) in enumerate(panel)
    )
    operator = _Operator(
        Prepared({**prepared.answers, **flags}, settings or prepared.settings),
        _silent(parsed.driver),
        sys.stdin.isatty(),
    )
    _commission(parsed, operator, to, timeout_s, may_replace)
    return 0


def _commission(
    address: Address, operator: "_Operator", to: Path, timeout_s: float, may_replace: bool
) -> None:
    clock, kind = SystemClock(), address.driver
    for key in ("operator", "title", "source", *_NEEDED[kind]):
        operator.answer(key)  # all of it before the port is touched
    if kind == "modbus":
        read_state_asked(operator)
    ratings = read_ratings(operator)
    set_up = DriverSetUp(address, clock, timeout_s)
    usual = _SERIAL.get(kind, SerialSettings())
    link = read_options(set_up, usual, own=("unit", "framing", "serial")).link
    try:
        made = _made(link, set_up, operator, ratings, timeout_s)
    finally:
        link.close()
    serial = link.settings if isinstance(link, SerialLink) else None
    text = describe(kind, made, operator, ratings, serial, clock)
    keep(text, to, LOADERS[kind], may_replace)
    operator.tell(made.choice)
    usual_s = max(timeout_s, TIMEOUT_S)
    driver = open_driver(replace(set_up, timeout_s=usual_s, description=str(to)))
    try:
        driver.open()
        reading = driver.read()
    finally:
        driver.close()
    warm = "" if reading.celsius is None else f", {reading.celsius} C"
    operator.tell(
        f"read with it now: {reading.volts} V, {reading.amps} A{warm}, {reading.mode.word}"
    )
    click.echo(f"{to}")
    operator.tell(
        f'name it in bench.toml: description = "{to.name}"; then bathvigil check --config '
        "bench.toml"
    )


def _made(
    link: Link, set_up: DriverSetUp, operator: "_Operator", ratings: dict[str, float], wait_s: float
) -> Made:
    clock, address = set_up.clock, set_up.address
    if address.driver == "scpi":
        return commission_scpi(link, set_up, clock, operator, wait_s)
    link.open(after(clock, CONNECT_S))
    if address.driver == "lines":
        return commission_lines(link, clock, operator, wait_s)
    options = all_options(set_up)
    unit = options.get("unit", "1")
    if not (unit.isascii() and unit.isdigit() and len(unit) <= 3):
        raise WrongUse(f"{address.text}: unit={unit!r} must be a number from 1 to 247")
    is_tcp = address.path is None and options.get("framing", "tcp") == "tcp"
    gap_s = frame_gap_s(link.settings.baud) if isinstance(link, SerialLink) else 0.0
    asking = AskingRegisters(link, clock, is_tcp, wait_s, gap_s)
    return commission_modbus(asking, int(unit), operator, ratings)


def _silent(kind: str) -> set[str]:
    """Questions that are not put for a kind of supply unless they are answered beforehand."""
    if kind == "modbus":
        return {"function", "type", "order", "offset", "status_by"}
    if kind == "scpi":
        return {"ask_volts", "ask_amps"}
    return set()


class _Operator:
    """Answers from options and file; the others are asked for at the terminal."""

    def __init__(self, prepared: Prepared, silent: set[str], is_person: bool) -> None:
        self._answers = dict(prepared.answers)
        self._settings = prepared.settings
        self._silent = silent
        self._is_person = is_person

    def answer(self, key: str) -> str:
        """The answer that was given; else ask the person, once."""
        if key not in self._answers:
            if key in self._silent:
                return ""
            if not self._is_person:
                if key in MAY_BE_EMPTY:
                    return ""
                option = key.replace("_", "-")
                raise WrongUse(f"{QUESTIONS[key]}? Give --{option}, or {key} in --answers")
            default = "" if key in MAY_BE_EMPTY else None
            said: str = click.prompt(QUESTIONS[key], default=default, show_default=False, err=True)
            self._answers[key] = said.strip()
        return self._answers[key]

    def set_panel(self, number: int) -> PanelShown:
        """Wait until the panel shows the next setting."""
        if self._settings:
            if number > len(self._settings):
                raise WrongUse("two settings are needed: give --panel V A twice")
            shown = self._settings[number - 1]
            if self._answers.get("celsius_at") and not shown.celsius:
                raise WrongUse("which temperature is shown? Give --panel-celsius C twice")
            self.tell(
                f"Setting {number} of 2: turn the volts on the front panel until it shows "
                f"{shown.volts} V and {shown.amps} A, then press Enter"
            )
            if not sys.stdin.readline():
                raise WrongUse("nobody pressed Enter: give one line on stdin for each setting")
            return shown
        if not self._is_person:
            raise WrongUse("what does the panel show? Give --panel V A twice")
        start = "Let the supply deliver" if number == 1 else "Turn the volts to something else"
        self.tell(f"Setting {number} of 2. {start}, and wait until the panel is steady.")
        volts: str = click.prompt("Volts on the panel, all digits", err=True)
        amps: str = click.prompt("Amps on the panel, all digits", err=True)
        if not self._answers.get("celsius_at"):
            return PanelShown(volts, amps)
        celsius: str = click.prompt("Degrees Celsius on the panel or a thermometer", err=True)
        return PanelShown(volts, amps, celsius)

    def set_state(self, words: str, number: int, of: int) -> None:
        """Wait until the supply is in the next state."""
        self.tell(
            f"State {number} of {of}: set the supply to {words} on its own panel, with no part "
            "in the bath that could be damaged, then press Enter"
        )
        if not sys.stdin.readline():
            raise WrongUse("nobody pressed Enter: give one line on stdin for each state, too")

    def narrow(self, why: str) -> tuple[str, str] | None:
        """Ask for one more word from the manual, where a person is there."""
        if not self._is_person:
            return None
        self.tell(why)
        said: str = click.prompt(
            "What else does the manual say, such as 'type uint16'? Press Enter alone to stop",
            default="",
            show_default=False,
            err=True,
        )
        key, _, value = said.strip().partition(" ")
        return (key.lower(), value.strip()) if value.strip() else None

    def tell(self, text: str) -> None:
        """On stderr: stdout is for what was made."""
        click.echo("\n".join(inert(line, 400) for line in text.splitlines()), err=True)
