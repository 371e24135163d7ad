"""One commissioning, from checked answers to a description that was tried on the supply."""

from dataclasses import replace
from pathlib import Path

from drivers.address import Address
from drivers.base.clock import SystemClock
from drivers.base.timeout import TIMEOUT_S
from drivers.driver import DriverSetUp
from drivers.link.link import after
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import SerialSettings
from drivers.link.shared_link import frame_gap_s
from drivers.modbus.unit_options import ASCII_SERIAL
from drivers.options import LinkOptions, all_options, read_options
from drivers.registry import open_driver
from monitor.setup.commission.made import Made, describe, keep
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.questionnaire import LINES, MODBUS, SCPI, Answers

CONNECT_S = 3.0
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
    clock, kind = SystemClock(), address.driver
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
    text = describe(kind, made, answers, serial, clock)
    keep(text, to, lambda path: open_driver(replace(usual, description=path)))
    operator.tell(made.choice)
    driver = open_driver(replace(usual, description=str(to)))
    try:
        driver.open()
        reading = driver.read()
    finally:
        driver.close()
    warm = "" if reading.celsius is None else f", {reading.celsius} C"
    operator.tell(
        f"read with it now: {reading.volts} V, {reading.amps} A{warm}, {reading.mode.word}"
    )


# Each kind is loaded when it is needed: one alone takes less than half the time of all three.


def _made(options: LinkOptions, set_up: DriverSetUp, answers: Answers, operator: Operator) -> Made:
    link = options.link
    clock, address, wait_s = set_up.clock, set_up.address, set_up.timeout_s
    if address.driver == SCPI:
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
