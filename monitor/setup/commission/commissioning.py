"""One commissioning, from checked answers to a description that was tried on the supply."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from drivers.address import Address
from drivers.base.clock import SystemClock
from drivers.base.timeout import TIMEOUT_S
from drivers.driver import DriverSetUp
from drivers.errors import AskAgain, Reopen
from drivers.link.link import after
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import SerialSettings
from drivers.link.shared_link import frame_gap_s
from drivers.modbus.unit_options import ASCII_SERIAL
from drivers.options import LinkOptions, all_options, read_options
from drivers.reading import Reading
from drivers.registry import open_driver
from monitor.base.whole_file import whole_file
from monitor.setup.commission.made import RESTS_MS, Made, describe, draft
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.questionnaire import LINES, MODBUS, SCPI, Answers
from monitor.setup.commission.toml_text import Value

CONNECT_S = 3.0
READINGS = 4
_SERIAL = {MODBUS: SerialSettings(parity="even")}


def commission(
    address: Address, answers: Answers, operator: Operator, to: Path, timeout_s: float
) -> None:
    """Write the description of the supply at an address, and read the supply with it once.

    Raises
    ------
    WrongUse
        For an option of the address that cannot be used.
    NotCommissioned
        Where no description was made; no file is written.
    DriverError
        Where the link fails.
    """
    clock, kind = SystemClock(), address.kind
    set_up = DriverSetUp(address, clock, timeout_s)
    port = _SERIAL.get(kind, SerialSettings())
    if all_options(set_up).get("framing") == "ascii":
        port = ASCII_SERIAL
    options = read_options(set_up, port, own=("unit", "framing", "serial"))
    link = options.link
    try:
        made = _made(options, set_up, answers, operator)
    finally:
        link.close()
    serial = link.settings if isinstance(link, SerialLink) else None
    usual = replace(set_up, timeout_s=max(timeout_s, TIMEOUT_S))
    operator.tell(made.choice)
    text, reading = _tried(made, lambda made: describe(kind, made, answers, serial, clock), usual)
    with whole_file(to) as file:
        file.write(text)
    warm = "" if reading.celsius is None else f", {reading.celsius} C"
    operator.tell(
        f"read with it now: {reading.volts} V, {reading.amps} A{warm}, {reading.mode.word}"
    )


def _tried(made: Made, text_of: Callable[[Made], str], set_up: DriverSetUp) -> tuple[str, Reading]:
    """The text of a description with which the supply was read again and again, and a reading.

    A supply in text that misses questions that follow at once gets a rest between them.

    Raises
    ------
    NotCommissioned
        Where the driver refuses the description.
    DriverError
        Where the supply cannot be read with it.
    """
    is_text = (made.kind or set_up.address.kind) in (LINES, SCPI)
    failure: AskAgain | Reopen | None = None
    for rest_ms in RESTS_MS if is_text else (0,):
        talk = made.tables.get("talk", {})
        assert isinstance(talk, Mapping)
        if rest_ms and rest_ms <= int(str(talk.get("rest_ms", 0))):
            continue
        rested: dict[str, Value] = {**made.tables, "talk": {**talk, "rest_ms": rest_ms}}
        text = text_of(replace(made, tables=rested) if rest_ms else made)
        with draft(text) as path:
            driver = open_driver(replace(set_up, description=path))
            try:
                driver.open()
                for _ in range(READINGS if is_text else 1):
                    reading = driver.read()
            except (AskAgain, Reopen) as error:
                if "speaks_every_s" in talk:
                    raise
                failure = failure or error
                continue
            finally:
                driver.close()
        return text, reading
    assert failure is not None, "no trial, no failure"
    raise failure


def questions_answered(address: Address, timeout_s: float, operator: Operator) -> dict[str, str]:
    """Which usual questions for volts and amps a supply in text answers, by their keys.

    Raises
    ------
    DriverError
        Where the link fails.
    """
    from monitor.setup.commission.look import look_around, offers

    clock = SystemClock()
    set_up = DriverSetUp(address, clock, timeout_s)
    link = read_options(set_up, SerialSettings(), own=("serial",)).link
    link.open(after(clock, CONNECT_S))
    try:
        look = look_around(link, clock, timeout_s)
    finally:
        link.close()
    if look.unasked is not None:
        operator.tell(f"it speaks by itself: {look.unasked!r}")
    if look.volts is not None:
        operator.tell(f"asked {look.ask_volts}, it answers {look.volts.text!r}")
    return dict(offers(look))


# Each kind is loaded when it is needed: one alone takes less than half the time of all three.


def _made(options: LinkOptions, set_up: DriverSetUp, answers: Answers, operator: Operator) -> Made:
    link = options.link
    clock, address, wait_s = set_up.clock, set_up.address, set_up.timeout_s
    if address.kind == SCPI:
        from monitor.setup.commission.scpi_session import commission_scpi

        return commission_scpi(link, set_up, answers, operator, wait_s)
    link.open(after(clock, CONNECT_S))
    if address.driver == LINES and answers["ask_volts"]:
        from monitor.setup.commission.lines_session import commission_lines

        return commission_lines(link, clock, answers, operator, wait_s)
    if address.driver == LINES:
        from monitor.setup.commission.talker_session import commission_talker

        return commission_talker(link, clock, answers, operator, wait_s)
    from drivers.modbus.unit_options import framing_and_unit
    from monitor.setup.commission.asking_registers import AskingRegisters
    from monitor.setup.commission.modbus_session import commission_modbus

    framing, unit = framing_and_unit(address, options)
    gap_s = frame_gap_s(link.settings.baud) if isinstance(link, SerialLink) else 0.0
    asking = AskingRegisters(link, clock, framing, wait_s, gap_s)
    return commission_modbus(asking, unit, answers, operator)
