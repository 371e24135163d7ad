"""`bathvigil find`: the serial ports and who uses each; asks on one port only if you name it."""

import errno
import json
import os
import re
import shlex
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import click

from drivers.address import MESSAGE_DRIVERS, Address, parse_address
from drivers.base.clock import SystemClock
from drivers.base.inert import inert
from drivers.base.timeout import TimeoutS
from drivers.driver import DriverSetUp
from drivers.errors import BadAddress, DriverError, Reopen
from drivers.link.link import Link, after
from drivers.link.port_holders import Holder, port_holders
from drivers.link.port_troubles import port_trouble
from drivers.link.ports import SerialPort
from drivers.link.serial_link import serial_ports
from drivers.link.serial_settings import SerialSettings
from drivers.modbus.unit_options import ASCII_SERIAL, framing_and_unit
from drivers.options import read_options
from drivers.registry import driver_names
from monitor.base.errors import BathvigilError, WrongUse
from monitor.commands.options import examples, json_option, range_of
from monitor.setup.commission.asking_registers import AskingRegisters
from monitor.setup.commission.endings import PATIENCE_S, Answered
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.look import WHO, Look, is_refused, look_around
from monitor.setup.commission.units_search import UnitAnswer, find_units

CONNECT_S = 3.0
MODBUS_PORT = 502
USUAL_TCP_UNITS = (1, 255, 0)
_UNITS = re.compile(r"([0-9]{1,3})(?:-([0-9]{1,3}))?")

Line = dict[str, object]


@dataclass(frozen=True, slots=True)
class PortReport:
    """What is known of one port.

    Parameters
    ----------
    holders
        The processes that hold it, as far as this user sees them.
    denied
        Why this user may not open it, with the cure; None where it may.
    """

    port: SerialPort
    holders: tuple[Holder, ...]
    denied: str | None


def report_port(port: SerialPort, root: Path = Path("/"), proc: Path = Path("/proc")) -> PortReport:
    """Look at a port; nothing is opened."""
    path = str(root / port.device.removeprefix("/"))
    denied = None
    if not os.access(path, os.R_OK | os.W_OK):
        number = errno.EACCES if Path(path).exists() else errno.ENOENT
        denied = str(port_trouble(path, "", OSError(number, os.strerror(number)), lambda: ()))
    return PortReport(port, port_holders(path, proc), denied)


@click.command(
    "find",
    epilog=examples(
        "bathvigil find",
        "bathvigil find --ask '/dev/ttyUSB0?baud=9600'",
        "bathvigil find --ask '/dev/ttyUSB0?parity=none' --units 1-5",
    ),
)
@click.option(
    "--ask",
    metavar="PORT",
    help="Ask which supply is on this port: a path as in an address, tcp://HOST:PORT, "
    "visa:NAME or usbtmc:PATH.",
)
@click.option(
    "--units",
    metavar="1-5",
    help="With --ask: instead of *IDN?, ask these Modbus addresses for one register each.",
)
@click.option(
    "--timeout-s",
    type=range_of(TimeoutS),
    default=PATIENCE_S,
    show_default=True,
    metavar="S",
    help="With --ask: the longest wait for one answer.",
)
@json_option
def command(ask: str | None, units: str | None, timeout_s: float, as_json: bool) -> int:
    """List the serial ports and who uses each, without opening any.

    With --ask, only that port is opened, and only questions are sent. No network is searched.
    """
    if ask is None:
        if units is not None:
            raise WrongUse("--units needs --ask PORT: which port?")
        return _list(as_json)
    lines = _ask_units(ask, _units(units), timeout_s) if units else _ask_any(ask, timeout_s)
    for line, text in lines:
        click.echo(json.dumps(line, ensure_ascii=False) if as_json else text)
    return 0


def _list(as_json: bool) -> int:
    reports = [report_port(port) for port in serial_ports()]
    for report in reports:
        click.echo(json.dumps(_port_line(report)) if as_json else _port_text(report))
    if not reports:
        click.echo("no serial port found: plug in the adapter", err=True)
    for name in driver_names():
        if as_json:
            click.echo(json.dumps({"kind": "driver", "driver": name}))
    if not as_json:
        click.echo(f"drivers: {', '.join(driver_names())}")
    return 0


def _port_line(report: PortReport) -> Line:
    port, adapter = report.port, report.port.adapter
    return {
        "kind": "port",
        "device": port.device,
        "use": port.best_name,
        "by_id": list(port.by_id),
        "by_path": list(port.by_path),
        "usb": None if adapter is None else adapter.usb,
        "serial": None if adapter is None else adapter.serial,
        "words": port.words,
        "driver": port.driver,
        "twins": list(port.twins),
        "held_by": [{"pid": holder.pid, "name": inert(holder.name)} for holder in report.holders],
        "may_open": report.denied is None,
        "why_not": report.denied,
    }


def _port_text(report: PortReport) -> str:
    port, adapter = report.port, report.port.adapter
    facts = [port.words]
    if adapter is not None:
        facts += [adapter.usb, *([f"serial number {adapter.serial}"] if adapter.serial else [])]
    facts += [f"driver {port.driver}"] if port.driver else []
    lines = [f"{port.device}  {', '.join(facts)}"]
    if port.best_name != port.device:
        lines.append(f"  name it {port.best_name}: this name stays when you plug it in again")
    others = [name for name in (*port.by_id, *port.by_path) if name != port.best_name]
    lines += [f"  also {name}" for name in others]
    if port.twins:
        twins = " and ".join(port.twins)
        lines.append(f"  {twins} looks the same: only the by-path name tells them apart")
    for holder in report.holders:
        hint = holder.hint or "close that program before a run"
        lines.append(f"  held by {inert(holder.name)} (process {holder.pid}): {hint}")
    if report.denied is not None:
        lines.append(f"  {report.denied}")
    return "\n".join(lines)


def _full(port: str, kind: str) -> str:
    """The address of what is on a port; a VISA name and a USBTMC device speak SCPI only."""
    return (
        port if port.startswith(tuple(f"{each}:" for each in MESSAGE_DRIVERS)) else f"{kind}:{port}"
    )


def _set_up(port: str, kind: str) -> DriverSetUp:
    try:
        address = parse_address(_full(port, kind))
    except BadAddress as error:
        raise WrongUse(f"--ask: {error}") from error
    return DriverSetUp(address, SystemClock())


@contextmanager
def _opened(set_up: DriverSetUp, serial: SerialSettings) -> Iterator[Link]:
    link = read_options(set_up, serial, own=("unit", "framing")).link
    try:
        link.open(after(set_up.clock, CONNECT_S))
        yield link
    finally:
        link.close()


def _ask_any(port: str, timeout_s: float) -> list[tuple[Line, str]]:
    """Ask in words; in registers only where an option or the port's number speaks for them, since
    to a supply that takes plain letters a frame of bytes may mean anything."""
    address = _set_up(port, "modbus").address
    if "unit" in address.options or "framing" in address.options:
        return _ask_units(port, None, timeout_s)
    if address.port == MODBUS_PORT:
        with suppress(BathvigilError, DriverError):
            return _ask_units(port, None, timeout_s)
    try:
        return [_ask_who(port, timeout_s)]
    except (NotCommissioned, Reopen) as error:
        if address.driver in MESSAGE_DRIVERS:
            raise BathvigilError(str(error)) from error
        raise BathvigilError(
            f"{error}. It may speak Modbus: `bathvigil find --ask {shlex.quote(port)} --units 1-5`"
        ) from error


def _ask_who(port: str, timeout_s: float) -> tuple[Line, str]:
    set_up = _set_up(port, "scpi")
    with _opened(set_up, SerialSettings()) as link:
        look = look_around(link, set_up.clock, timeout_s, wants_values=False)
    if look.unasked is not None:
        return _speaks_unasked(port, look.unasked)
    if look.identity is not None and look.ends_with is not None:
        return _names_itself(port, look, look.identity)
    if look.ask_volts:
        return _answers(port, look)
    if not look.heard:
        raise NotCommissioned(
            f"{port}: no bytes at all came, neither unasked nor to {WHO} and the like. Check that "
            "the supply is on, cable, baud rate and parity; a slow supply needs --timeout-s"
        )
    heard = ", ".join(repr(inert(text, 40)) for text in look.heard[:4])
    if any(map(is_refused, look.heard)):
        return {"kind": "answer", "port": port, "speaks": "text", "heard": list(look.heard)}, (
            f"{port}: it hears us, and refused what was asked: {heard}\n  look up in its manual "
            "how volts and amps are asked; next: "
            f"bathvigil commission '{_full(port, 'lines')}' --to mine.toml"
        )
    raise NotCommissioned(
        f"{port}: bytes came, but not for us: {heard}. Check baud rate and parity, as in "
        "'/dev/ttyUSB0?baud=19200'. If its manual knows this text: "
        f"`bathvigil commission '{_full(port, 'lines')}' --to mine.toml`"
    )


def _names_itself(port: str, look: Look, answer: Answered) -> tuple[Line, str]:
    who = inert(answer.text)
    line: Line = {
        "kind": "answer",
        "port": port,
        "speaks": "scpi",
        "identity": who,
        "question_ends_with": look.ends_with,
        "answer_ends_with": answer.ends_with,
        "raw": answer.raw.hex(" "),
        "took_s": round(answer.took_s, 4),
    }
    text = (
        f"{port}: {who}\n  it speaks SCPI: questions end with {look.ends_with}, answers "
        f"with {answer.ends_with}; next: bathvigil commission '{_full(port, 'scpi')}' "
        "--to mine.toml"
    )
    return line, text


def _answers(port: str, look: Look) -> tuple[Line, str]:
    volts = "" if look.volts is None else look.volts.text
    line: Line = {
        "kind": "answer",
        "port": port,
        "speaks": "text",
        "ask_volts": look.ask_volts,
        "ask_amps": look.ask_amps,
        "line": volts,
    }
    return line, (
        f"{port}: asked {look.ask_volts}, it answers {inert(volts, 60)!r}\n  it answers in text, "
        f"without a name; next: bathvigil commission '{_full(port, 'lines')}' --to mine.toml"
    )


def _speaks_unasked(port: str, text: str) -> tuple[Line, str]:
    line: Line = {"kind": "answer", "port": port, "speaks": "unasked", "line": text}
    return line, (
        f"{port}: it sent {inert(text, 60)!r} without a question\n  it speaks unasked; next: "
        f"bathvigil commission '{_full(port, 'lines')}' --to mine.toml"
    )


def _ask_units(port: str, units: range | None, timeout_s: float) -> list[tuple[Line, str]]:
    """The Modbus units on a port; None asks those that are usual."""
    set_up = _set_up(port, "modbus")
    address = set_up.address
    options = read_options(set_up, SerialSettings(), own=("unit", "framing"))
    given, own_unit = framing_and_unit(address, options)
    is_network = address.path is None
    framings: tuple[str, ...] = ("tcp", "rtu", "ascii") if is_network else ("rtu", "ascii")
    if "framing" in options.given:
        framings = (given,)
    usual = (own_unit,) if "unit" in options.given or not is_network else USUAL_TCP_UNITS
    asked = usual if units is None else tuple(units)
    if units is not None and len(units) > 1 and is_network:
        asked = tuple(dict.fromkeys((*asked, *USUAL_TCP_UNITS)))

    @contextmanager
    def opened(framing: str) -> Iterator[AskingRegisters]:
        serial = ASCII_SERIAL if framing == "ascii" else SerialSettings()
        with _opened(set_up, serial) as link:
            yield AskingRegisters(link, set_up.clock, framing, timeout_s)

    answers = find_units(opened, framings, asked)
    if not answers:
        numbers = f"from {units.start} to {units.stop - 1}" if units else f"of {asked}"
        raise BathvigilError(
            f"{port}: no Modbus address {numbers} answers in {' or '.join(framings)}: check "
            "power, cable (A and B swapped?), baud rate and parity, as in "
            "'/dev/ttyUSB0?baud=19200'. If by its manual it is asked in text: "
            f"`bathvigil commission 'lines:{port.partition('?')[0]}' --to mine.toml`"
        )
    return [_unit_line(port, address, answer) for answer in answers]


def _unit_line(port: str, address: Address, answer: UnitAnswer) -> tuple[Line, str]:
    options = {**address.options, "unit": str(answer.unit)}
    if answer.framing != ("tcp" if address.path is None else "rtu"):
        options["framing"] = answer.framing
    place = port.partition("?")[0]
    own = f"modbus:{place}?{'&'.join(f'{key}={value}' for key, value in options.items())}"
    raw = answer.block.raw.hex(" ")
    line: Line = {"kind": "answer", "port": port, "speaks": "modbus", "framing": answer.framing}
    text = (
        f"{port}: Modbus address {answer.unit} answers ({raw}); next: "
        f"bathvigil commission '{own}' --to mine.toml"
    )
    return {**line, "unit": answer.unit, "raw": raw}, text


def _units(text: str) -> range:
    match = _UNITS.fullmatch(text)
    first, last = (int(match[1]), int(match[2] or match[1])) if match else (1, 0)
    if not 0 <= first <= last <= 255:
        raise WrongUse(
            f"--units {text!r}: write one address, or a range such as 1-5, from 0 to 255"
        )
    return range(first, last + 1)
