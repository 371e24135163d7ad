"""Registers served by other libraries: pyModbusTCP, modbus-tk, uModbus, the server of pymodbus.

Each gets the bytes of a question and returns those of its reply; the registers hold what is
measured at that moment.
"""

import asyncio
import struct
import threading
from collections.abc import Callable, Mapping
from typing import Any, cast

from modbus_tk import modbus, modbus_rtu
from modbus_tk.defines import ANALOG_INPUTS, HOLDING_REGISTERS
from pyModbusTCP.server import ModbusServer
from umodbus import conf
from umodbus.exceptions import IllegalDataAddressError
from umodbus.server.serial import get_server
from umodbus.server.serial.rtu import RTUServer

from tests.drivers.instruments.instrument import Answers
from tests.drivers.instruments.truth import Truth
from tests.drivers.instruments.wire import HangUp

Registers = Callable[[Truth], Mapping[int, int]]
"""The words of the registers that there are, by their address on the wire."""


def u16(value: float) -> list[int]:
    """One register, signed or not."""
    return [round(value) & 0xFFFF]


def words(form: str, value: float, order: str = "ABCD") -> list[int]:
    """Two registers by a form of `struct` such as ">I" or ">f", in one of the four orders."""
    data = struct.pack(form, value if form[-1] == "f" else round(value))
    data = bytes(data["ABCD".index(letter)] for letter in order)
    return [int.from_bytes(data[:2], "big"), int.from_bytes(data[2:], "big")]


def at(address: int, values: list[int]) -> dict[int, int]:
    """These registers from an address on."""
    return {address + number: word for number, word in enumerate(values)}


def of_pymodbustcp(registers: Registers, function: int = 3) -> Answers:
    """A device on TCP whose core is pyModbusTCP's server."""
    server = ModbusServer()

    def answer(truth: Truth, question: bytes) -> bytes | None:
        held = registers(truth)
        for address, word in held.items():
            if function == 3:
                server.data_bank.set_holding_registers(address, [word])
            else:
                server.data_bank.set_input_registers(address, [word])
        session = ModbusServer.SessionData()
        try:
            session.request.mbap.raw = question[:7]
        except ModbusServer.Error as error:
            raise HangUp from error
        session.request.pdu.raw = question[7:]
        if len(question) < 12:
            return None
        session.set_response_mbap()
        server._internal_engine(session)
        return bytes(session.response.raw)

    return answer


def of_modbus_tk(
    registers: Registers, unit: int = 1, function: int = 3, size: int = 64, start: int = 0
) -> Answers:
    """A unit on a serial line whose core is modbus-tk's; other registers are refused."""
    bank = modbus.Databank(error_on_missing_slave=False)
    slave = bank.add_slave(unit)
    slave.add_block("all", HOLDING_REGISTERS if function == 3 else ANALOG_INPUTS, start, size)

    def answer(truth: Truth, question: bytes) -> bytes | None:
        for address, word in registers(truth).items():
            slave.set_values("all", address, word)
        reply = bank.handle_request(modbus_rtu.RtuQuery(), question)
        return bytes(reply) if reply else None

    return answer


def of_umodbus(registers: Registers, unit: int = 1, function: int = 3) -> Answers:
    """A unit on a serial line whose core is uModbus's; it has the registers given and no other."""
    server = get_server(RTUServer, _NoPort())
    held: dict[int, int] = {}

    def look(slave_id: int, function_code: int, address: int) -> int:
        if address not in held:
            raise IllegalDataAddressError
        return held[address]

    server.route(slave_ids=[unit], function_codes=[function], addresses=list(range(0x400)))(look)

    def answer(truth: Truth, question: bytes) -> bytes | None:
        conf.SIGNED_VALUES = False
        held.update(registers(truth))
        if question[:1] != bytes((unit,)):
            return None
        try:
            return bytes(server.process(question))
        except Exception:  # the library raises whatever a broken frame makes it raise
            return None

    return answer


class _NoPort:
    """Stands where uModbus wants its serial port; only its speed is read."""

    baudrate = 9600
    timeout = 0.0
    inter_byte_timeout = 0.0


def of_pymodbus(registers: Registers, unit: int = 1) -> Answers:
    """A device on TCP: the real server of pymodbus, asked over a connection of its own."""
    from pymodbus.server import ModbusTcpServer
    from pymodbus.simulator import DataType, SimData, SimDevice

    state: dict[str, Any] = {}

    async def begin() -> None:
        block = SimData(0, count=100, values=0, datatype=DataType.REGISTERS)
        server = ModbusTcpServer(SimDevice(unit, simdata=[block]), address=("127.0.0.1", 0))
        await server.serve_forever(background=True)
        state["server"] = server
        port = cast(asyncio.Server, server.transport).sockets[0].getsockname()[1]
        state["reader"], state["writer"] = await asyncio.open_connection("127.0.0.1", port)

    async def exchange(question: bytes, held: Mapping[int, int]) -> bytes:
        for address, word in held.items():
            await state["server"].async_setValues(unit, 16, address, [word])
        if question[2:4] != b"\0\0":  # its own parser waits for more, and never ends
            return b""
        state["writer"].write(question)
        async with asyncio.timeout(2.0):
            return bytes(await state["reader"].read(4096))

    def answer(truth: Truth, question: bytes) -> bytes | None:
        if "loop" not in state:
            loop = state["loop"] = asyncio.new_event_loop()
            threading.Thread(target=loop.run_forever, daemon=True).start()
            asyncio.run_coroutine_threadsafe(begin(), loop).result(5)
        doing = exchange(question, registers(truth))
        reply = asyncio.run_coroutine_threadsafe(doing, state["loop"]).result(5)
        if not reply:
            raise HangUp
        return reply

    return answer
