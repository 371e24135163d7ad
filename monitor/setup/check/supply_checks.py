"""The checks of one supply: port, permission, lock, reply and decoding.

Steps are taken in this order, and the first that fails ends them: what was not tried is no line,
so that one fault is one line.
"""

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from drivers.address import Address, parse_address
from drivers.base.clock import Clock
from drivers.driver import Driver, DriverSetUp
from drivers.errors import (
    BadAddress,
    BadDescription,
    DriverError,
    GarbledAnswer,
    PortBusy,
    PortDenied,
    PortMissing,
    SupplyRefused,
    SupplyUnreadable,
)
from drivers.link.port_holders import port_holders
from drivers.link.port_names import PortName
from drivers.link.port_troubles import no_port, port_trouble
from drivers.link.serial_link import is_pseudo_terminal, known_ports, serial_ports
from drivers.link_standing import link_standing
from drivers.reading import Reading
from drivers.registry import open_driver
from monitor.base.errors import StoreError
from monitor.recorder.link_watch import LINK
from monitor.setup.check.finding import Check, Finding, Result
from monitor.store.reader import open_store

READINGS = 20
READ_FOR_S = 5.0
_READ_WRITE = os.R_OK | os.W_OK


@dataclass(frozen=True, slots=True)
class SupplyToCheck:
    """One supply as the settings or the command line name it.

    Parameters
    ----------
    poll_s
        How often it is to be asked; None where nobody said.
    timeout_s
        The longest wait for one answer.
    recorder
        The process that records into the bench's store now; None for none.
    store
        The bench's store, for what that process said of the link.
    """

    name: str
    address: str
    description: str | None = None
    poll_s: float | None = None
    timeout_s: float = 0.5
    recorder: int | None = None
    store: Path | None = None


def check_supply(supply: SupplyToCheck, clock: Clock) -> Iterator[Finding]:
    """Check one supply, asking it `READINGS` times at the most."""
    try:
        address = parse_address(supply.address)
        driver = open_driver(DriverSetUp(address, clock, supply.timeout_s, supply.description))
    except (BadAddress, BadDescription) as error:
        yield _failed(Check.SETTINGS, supply, error)
        return
    if address.is_serial and address.path is not None:
        findings = list(_port(supply, address.path))
        yield from findings
        if findings[-1].check != "permission" or findings[-1].result is not Result.PASS:
            return
    try:
        yield from _reply(supply, address, driver, clock)
    finally:
        driver.close()


def _port(supply: SupplyToCheck, name: str) -> Iterator[Finding]:
    try:
        path = PortName(name).look_up()
        mode = Path(path).stat().st_mode
        if not stat.S_ISCHR(mode) and os.name == "posix":
            raise no_port(name)
    except DriverError as error:
        yield _failed(Check.PORT, supply, error)
        return
    except OSError as error:
        yield _failed(Check.PORT, supply, port_trouble(path, "", error, known_ports))
        return
    leads = os.path.realpath(path)
    shown = name if leads == name else f"{name} leads to {leads}"
    better = next((port.best_name for port in serial_ports() if port.device == name), name)
    if better != name:
        yield Finding(
            Check.PORT,
            Result.NOTE,
            f"{shown}, a serial port, but the next adapter that is plugged in may get this name",
            supply.name,
            f"write {better} into its address instead",
        )
    else:
        yield Finding(Check.PORT, Result.PASS, f"{shown}, a serial port", supply.name)
    if not os.access(path, _READ_WRITE):
        denied = port_trouble(path, "", PermissionError(13, "Permission denied"), known_ports)
        yield _failed(Check.PERMISSION, supply, denied)
        return
    words = "this user may open it"
    if os.name == "posix" and os.geteuid() == 0:
        words += "; but no lock keeps programs of root apart: better run it as another user"
    yield Finding(Check.PERMISSION, Result.PASS, words, supply.name)
    if any(holder.pid == supply.recorder for holder in port_holders(path)):
        words = f"the recorder (process {supply.recorder}) holds it and asks the supply now"
        yield Finding(Check.LOCK, Result.NOTE, words, supply.name)
        link = None if supply.store is None else recorded_link(supply.store, supply.address)
        if link is not None:
            yield Finding(Check.LINK, Result.NOTE, f"the recorder wrote last: {link}", supply.name)


def recorded_link(store: Path, address: str) -> str | None:
    """The newest words on the link of the run that goes on at an address; None for none.

    A recorder tells of a link only where something changed: the words may be minutes old.
    """
    try:
        with open_store(store) as opened:
            for row in reversed(opened.runs()):
                if row.facts.address == address and row.ended_utc_ns is None:
                    status = opened.run(row.run).statuses().get(LINK)
                    return None if status is None else status.text
    except StoreError:
        return None
    return None


def _lock(supply: SupplyToCheck, name: str) -> Finding:
    """The port is open, so no program has locked it; one may still read from it."""
    path = PortName(name).look_up()
    others = [] if is_pseudo_terminal(path) else port_holders(path)
    if any(not holder.is_ourselves for holder in others):
        busy = port_trouble(path, "", BlockingIOError(11, "busy"), known_ports)
        return _failed(Check.LOCK, supply, busy)
    return Finding(Check.LOCK, Result.PASS, "nobody else holds it", supply.name)


def _reply(
    supply: SupplyToCheck, address: Address, driver: Driver, clock: Clock
) -> Iterator[Finding]:
    failure: DriverError | None = None
    who = ""
    try:
        who = driver.open().text
    except DriverError as error:
        failure = error
    step = Check.REPLY if failure is None else _step(failure)
    if step in (Check.REPLY, Check.DECODE):
        if address.is_serial and address.path is not None:
            yield _lock(supply, address.path)
        else:
            where = address.path or f"{address.host}:{address.port}"
            words = f"{where} takes the connection"
            yield Finding(Check.PORT, Result.PASS, words, supply.name)
    if failure is not None:
        yield _failed(step, supply, failure)
        return
    took_s: list[float] = []
    reading: Reading | None = None
    failures: list[DriverError] = []
    end_ns = clock.monotonic_ns() + round(READ_FOR_S * 1e9)
    while len(took_s) + len(failures) < READINGS and clock.monotonic_ns() < end_ns:
        asked_ns = clock.monotonic_ns()
        try:
            reading = driver.read()
        except DriverError as error:
            failures.append(error)
            if len(failures) > READINGS // 4:
                break
        else:
            took_s.append((clock.monotonic_ns() - asked_ns) / 1e9)
    if len(failures) > len(took_s) // 10:
        yield _failed(_step(failures[-1]), supply, failures[-1])
        return
    yield _timed(supply, who, took_s)
    yield from _link(supply, driver)
    if reading is not None:
        yield _decoded(supply, reading)


def _timed(supply: SupplyToCheck, who: str, took_s: list[float]) -> Finding:
    middle_s, slow_s = median(took_s), sorted(took_s)[-1 - len(took_s) // 100]
    words = (
        f"{who} answers in {_time(middle_s)}, at the slowest {_time(slow_s)}: "
        f"that allows {_rate(slow_s)}"
    )
    if supply.poll_s is not None and supply.poll_s < slow_s:
        return Finding(
            Check.REPLY,
            Result.NOTE,
            f"{words}; it is to be asked every {supply.poll_s:g} s",
            supply.name,
            f"set poll_s = {_rounded_up(1.2 * slow_s):g} in bench.toml",
        )
    if supply.timeout_s < 3 * slow_s:
        return Finding(
            Check.REPLY,
            Result.NOTE,
            f"{words}; the time-out of {supply.timeout_s:g} s is short for that",
            supply.name,
            f"set timeout_s = {_rounded_up(3 * slow_s):g} in bench.toml",
        )
    return Finding(Check.REPLY, Result.PASS, words, supply.name)


def _link(supply: SupplyToCheck, driver: Driver) -> Iterator[Finding]:
    """What the driver itself says of its link: its pace, what went wrong, what to know."""
    standing = link_standing(driver)
    words = standing.words(supply.poll_s)
    if standing.troubles:
        fix = "check cable, shield, baud rate and parity"
        if standing.tally is not None and standing.tally.late:
            fix += "; late answers: set a longer timeout_s in bench.toml"
        yield Finding(Check.LINK, Result.NOTE, words, supply.name, fix)
    elif words:
        yield Finding(Check.LINK, Result.PASS, words, supply.name)
    for notice in standing.notices:
        yield Finding(
            Check.LINK, Result.NOTE, notice.removeprefix(f"{supply.address}: "), supply.name
        )


def _decoded(supply: SupplyToCheck, reading: Reading) -> Finding:
    shown = f"{_quantity(reading.volts, 'V')}, {_quantity(reading.amps, 'A')}"
    if reading.doubt is not None or reading.volts is None or reading.amps is None:
        return Finding(
            Check.DECODE,
            Result.FAIL,
            f"{shown}: {reading.doubt or 'a value is missing'}",
            supply.name,
            "hold its description against its manual, or make one with `bathvigil commission`",
        )
    return Finding(
        Check.DECODE,
        Result.PASS,
        f"{shown}, {reading.mode.word}: compare with the supply's own panel",
        supply.name,
    )


def _step(error: DriverError) -> Check:
    """Which step an error belongs to."""
    match error:
        case PortMissing():
            return Check.PORT
        case PortDenied():
            return Check.PERMISSION
        case PortBusy():
            return Check.LOCK
        case BadAddress() | BadDescription():
            return Check.SETTINGS
        case GarbledAnswer() | SupplyUnreadable() | SupplyRefused():
            return Check.DECODE
    return Check.REPLY


def _failed(check: Check, supply: SupplyToCheck, error: DriverError) -> Finding:
    return Finding(check, Result.FAIL, str(error), supply.name)


def _quantity(value: float | None, unit: str) -> str:
    return f"{value:.3f} {unit}" if value is not None else f"no {unit}"


def _time(seconds: float) -> str:
    if seconds < 0.001:
        return "less than 1 ms"
    return f"{seconds * 1000:.0f} ms" if seconds < 1.0 else f"{seconds:.1f} s"


def _rate(seconds: float) -> str:
    if seconds > 1.0:
        return f"1 reading per {seconds:.1f} s"
    return f"{min(1 / max(seconds, 1e-3), 1000.0):.0f} readings a second"


def _rounded_up(seconds: float) -> float:
    return -(-seconds * 10 // 1) / 10
