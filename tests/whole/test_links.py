"""The drivers on real ports and sockets: bad links, others' servers, several units on one wire."""

import asyncio
import os
import threading
import tty
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast

import pytest
import serial
from modbus_tk import defines, modbus_rtu
from pyModbusTCP.server import DataBank, ModbusServer
from scpipy.server import Context, Router, Server
from umodbus import conf
from umodbus.server.serial import get_server as umodbus_server
from umodbus.server.serial.rtu import RTUServer

from benchmarks.link_trial import LINK_KINDS, LinkKind, Outcome, drivers_on, run_trial
from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import Driver, DriverSetUp
from drivers.errors import PortMissing
from drivers.reading import Identity, Mode
from drivers.registry import driver_names, open_driver
from tests.servers.ports import free_port

POLLS = 250


@pytest.fixture(scope="module")
def outcomes() -> dict[str, Outcome]:
    """All kinds of link, polled side by side over lines that are bad in every known way."""
    with ThreadPoolExecutor(len(LINK_KINDS)) as pool:
        ran = pool.map(lambda kind: run_trial(kind, POLLS), LINK_KINDS)
        return dict(zip([kind.name for kind in LINK_KINDS], ran, strict=True))


@pytest.mark.parametrize("kind", LINK_KINDS, ids=lambda kind: kind.name)
def test_no_value_on_a_bad_link_belongs_to_another_question(
    kind: LinkKind, outcomes: dict[str, Outcome]
) -> None:
    outcome = outcomes[kind.name]
    assert outcome.foreign == []
    assert outcome.polls == POLLS
    # On a busy machine most answers are late; a trial without any good one would show nothing.
    assert outcome.good > POLLS / 20


@pytest.mark.parametrize("kind", LINK_KINDS, ids=lambda kind: kind.name)
def test_every_missing_poll_has_a_reason_that_fits(
    kind: LinkKind, outcomes: dict[str, Outcome]
) -> None:
    outcome = outcomes[kind.name]
    assert outcome.unfit == []
    assert outcome.good + sum(outcome.reasons.values()) == POLLS


@pytest.mark.parametrize("kind", LINK_KINDS, ids=lambda kind: kind.name)
def test_nothing_but_questions_was_sent(kind: LinkKind, outcomes: dict[str, Outcome]) -> None:
    assert outcomes[kind.name].commands == []


def test_our_drivers_come_by_entry_points_like_a_strangers() -> None:
    assert {"scpi", "modbus", "lines"} <= set(driver_names())


def test_two_units_on_one_wire_are_told_apart() -> None:
    kind = next(kind for kind in LINK_KINDS if len(kind.units) == 2)
    with drivers_on(kind) as (_, drivers):
        for driver in drivers:
            driver.open()
        read = [driver.read() for driver in drivers for _ in range(5)]
        volts = [reading.volts for reading in read if reading.volts is not None]
        # The last digit but one of a tag is the unit.
        assert [round(100 * value) // 10 % 10 for value in volts] == [1] * 5 + [2] * 5


SUPPLY = """
format = 1
kind = "modbus"
title = "a server of someone else's"
source = "invented"
[volts]
function = {function}
address = 0
type = "float32"
source = "invented"
[amps]
function = {function}
address = 2
type = "float32"
source = "invented"
[status]
function = {function}
address = 4
constant_voltage_values = [1]
source = "invented"
[identity]
function = {function}
address = 10
registers = 2
source = "invented"
"""
# 12.5 and 3.25 in IEEE 754 single precision, high word first; then the status.
HELD = {0: 0x4148, 1: 0x0000, 2: 0x4050, 3: 0x0000, 4: 1, 10: 0x0001, 11: 0x0007}


def reads_right(address: str, folder: Path, function: int) -> None:
    description = folder / "theirs.toml"
    description.write_text(SUPPLY.format(function=function))
    driver: Driver = open_driver(
        DriverSetUp(parse_address(address), SystemClock(), 1.0, str(description))
    )
    try:
        assert driver.open().text == "registers 0001 0007"
        for _ in range(20):
            reading = driver.read()
            assert (reading.volts, reading.amps) == (12.5, 3.25)
            assert reading.mode is Mode.CONSTANT_VOLTAGE
    finally:
        driver.close()


class PtyPair:
    """A pseudo-terminal whose far side a server may open as a serial port by its name."""

    def __init__(self) -> None:
        self.ours, ours_slave = os.openpty()
        self.theirs, theirs_slave = os.openpty()
        for handle in (self.ours, self.theirs, ours_slave, theirs_slave):
            tty.setraw(handle)
        self.names = os.ttyname(ours_slave), os.ttyname(theirs_slave)
        self._slaves = (ours_slave, theirs_slave)
        self._pumps = [
            threading.Thread(target=self._pump, args=pair, daemon=True)
            for pair in ((self.ours, self.theirs), (self.theirs, self.ours))
        ]
        self._is_over = threading.Event()
        for pump in self._pumps:
            pump.start()

    def close(self) -> None:
        self._is_over.set()
        for slave in self._slaves:
            os.write(slave, b"\0")  # wakes the pump
        for pump in self._pumps:
            pump.join()
        for handle in (self.ours, self.theirs, *self._slaves):
            os.close(handle)

    def _pump(self, source: int, to: int) -> None:
        while True:
            data = os.read(source, 4096)
            if self._is_over.is_set():
                return
            os.write(to, data)


@pytest.fixture
def pair() -> Iterator[PtyPair]:
    made = PtyPair()
    yield made
    made.close()


@contextmanager
def running(serve: Callable[[], object], stop: Callable[[], object]) -> Iterator[None]:
    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield
    finally:
        stop()
        thread.join(5.0)


def test_a_server_of_pymodbustcp_is_read_over_tcp(tmp_path: Path) -> None:
    bank = DataBank()
    for address, value in HELD.items():
        bank.set_holding_registers(address, [value])
    server = ModbusServer(host="127.0.0.1", port=0, no_block=True, data_bank=bank)
    server.start()
    try:
        port = server._service.server_address[1]
        reads_right(f"modbus:tcp://127.0.0.1:{port}?unit=1", tmp_path, function=3)
    finally:
        server.stop()


def test_a_server_of_pymodbus_is_read_over_tcp(tmp_path: Path) -> None:
    from pymodbus.server import ModbusTcpServer
    from pymodbus.simulator import DataType, SimData, SimDevice

    async def serve_and_read() -> None:
        values = [HELD.get(address, 0) for address in range(12)]
        device = SimDevice(id=1, simdata=[SimData(0, values=values, datatype=DataType.REGISTERS)])
        server = ModbusTcpServer(device, address=("127.0.0.1", 0))
        await server.serve_forever(background=True)
        try:
            transport = cast(Any, server.transport)
            port = transport.sockets[0].getsockname()[1]
            address = f"modbus:tcp://127.0.0.1:{port}?unit=1"
            await asyncio.to_thread(reads_right, address, tmp_path, 4)
        finally:
            await server.shutdown()  # type: ignore[no-untyped-call]  # the library's own omission

    asyncio.run(serve_and_read())


@pytest.mark.filterwarnings("ignore:isSet:DeprecationWarning")  # the library's own
def test_a_server_of_modbus_tk_is_read_over_rtu(tmp_path: Path, pair: PtyPair) -> None:
    port = serial.Serial(pair.names[1], 9600)
    server = modbus_rtu.RtuServer(port)
    unit = server.add_slave(5)
    unit.add_block("all", defines.HOLDING_REGISTERS, 0, 20)
    for address, value in HELD.items():
        unit.set_values("all", address, [value])
    server.start()
    try:
        reads_right(f"modbus:{pair.names[0]}?unit=5", tmp_path, function=3)
    finally:
        server.stop()
        port.close()


def test_a_server_of_umodbus_is_read_over_rtu(tmp_path: Path, pair: PtyPair) -> None:
    conf.SIGNED_VALUES = False
    port = serial.Serial(pair.names[1], 9600, timeout=0.02)
    server = umodbus_server(RTUServer, port)

    @server.route(slave_ids=[3], function_codes=[4], addresses=list(range(20)))  # type: ignore[untyped-decorator]  # a library without types
    def answer(slave_id: int, function_code: int, address: int) -> int:
        return HELD.get(address, 0)

    over = threading.Event()

    def serve() -> None:
        while not over.is_set():
            try:
                server.serve_once()
            except (ValueError, IndexError):  # nothing came within its time-out
                continue

    with running(serve, over.set):
        reads_right(f"modbus:{pair.names[0]}?unit=3", tmp_path, function=4)
    port.close()


def test_a_server_of_scpipy_is_read_over_tcp() -> None:
    """Its parser, its joining of answers, its error queue and its status registers are its own."""
    router = Router()
    router.add_route("*IDN?", lambda context: "SOMEONE,ELSE,42,1.0")
    router.add_route("MEASure[:SCALar]:VOLTage[:DC]?", lambda context: "+1.25000E+01")
    router.add_route("MEASure[:SCALar]:CURRent[:DC]?", lambda context: "3.25")

    def in_constant_voltage(context: Context) -> str:
        # Bit 8: the maker's own in SCPI-1999 volume 1, 9; "constant voltage": common practice.
        context.status.operation.set_condition(0x100)
        return "1"

    router.add_route("OUTPut[:STATe]?", in_constant_voltage)
    port = free_port()
    server = Server("127.0.0.1", port, shared_context=True)
    server.include_router(router)
    loop = asyncio.new_event_loop()
    # Its own `run` cannot be ended from another thread.
    task = loop.create_task(server._listen())
    with running(
        lambda: loop.run_until_complete(task), lambda: loop.call_soon_threadsafe(server.stop)
    ):
        address = parse_address(f"scpi:tcp://127.0.0.1:{port}")
        driver = open_driver(DriverSetUp(address, SystemClock(), 0.3))
        try:
            identity = open_patiently(driver)
            assert (identity.text, identity.serial) == ("SOMEONE,ELSE,42,1.0", "42")
            readings = [driver.read() for _ in range(20)]
        finally:
            driver.close()
    loop.close()
    assert {(reading.volts, reading.amps) for reading in readings} == {(12.5, 3.25)}


def open_patiently(driver: Driver) -> Identity:
    """Open it as soon as its server listens."""
    for _ in range(100):
        try:
            return driver.open()
        except PortMissing:
            SystemClock().wait(0.02)
    raise AssertionError("nobody listens")
