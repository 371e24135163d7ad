"""One Modbus device that can only be read: it answers a request's PDU.

Modbus Application Protocol V1.1b3. Functions 3 and 4 are answered from the register map; every
other one with exception 01, and those that would change something are reported as commands.
"""

from dataclasses import dataclass

from simulators.meters import Meters
from simulators.register_map import Register, RegisterMap
from simulators.register_word import arrange, pack
from simulators.tags import Tag

ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE = 1, 2, 3
GATEWAY_PATH, GATEWAY_TARGET = 0x0A, 0x0B
# Those of V1.1b3, 6, that change nothing in the device; all others count as commands.
ASKING = frozenset({1, 2, 3, 4, 7, 0x0B, 0x0C, 0x11, 0x14, 0x18, 0x2B})


@dataclass(frozen=True, slots=True)
class Reply:
    """One reply's PDU, and what is to be put on record of it."""

    pdu: bytes
    commands: tuple[str, ...] = ()
    tags: tuple[Tag, ...] = ()
    torn: tuple[str, ...] = ()


def refuse(function: int, code: int) -> bytes:
    """The PDU of an exception.

    Examples
    --------
    >>> refuse(1, 2).hex()
    '8102'
    """
    return bytes((function & 0x7F | 0x80, code))


class ModbusUnit:
    """One device on a wire, shared by all its links.

    Parameters
    ----------
    registers
        What stands where.
    meters
        What it measures.
    serial
        Its serial number.
    is_mute
        Never answers.
    """

    def __init__(
        self, registers: RegisterMap, meters: Meters, serial: int = 1, *, is_mute: bool = False
    ) -> None:
        self.registers = registers
        self.meters = meters
        self.serial = serial
        self.is_mute = is_mute
        self.posing_as: int | None = None

    def answer(self, pdu: bytes) -> Reply:
        """Answer one request."""
        function = pdu[0]
        if function not in ASKING:
            return Reply(refuse(function, ILLEGAL_FUNCTION), (f"function {function:02X}",))
        if function not in (3, 4) or function not in self.registers.functions:
            return Reply(refuse(function, ILLEGAL_FUNCTION))
        if len(pdu) != 5:
            return Reply(refuse(function, ILLEGAL_VALUE))
        address, count = int.from_bytes(pdu[1:3], "big"), int.from_bytes(pdu[3:5], "big")
        if not 1 <= count <= self.registers.most_registers:
            return Reply(refuse(function, ILLEGAL_VALUE))
        if not self.registers.allows(address, count):
            return Reply(refuse(function, ILLEGAL_ADDRESS))
        return self._read(function, address, count)

    def restart(self) -> None:
        """Be as after switching on: output off, nothing set."""
        self.meters.rig.supply.power_on()

    def _read(self, function: int, address: int, count: int) -> Reply:
        data = bytearray(2 * count)
        torn = []
        for register in self.registers.registers:
            begin, end = register.address, register.address + register.width
            if register.function != function or end <= address or address + count <= begin:
                continue
            if begin < address or end > address + count:
                torn.append(register.quantity)
            for index, byte in enumerate(self._bytes(register), 2 * (begin - address)):
                if 0 <= index < len(data):
                    data[index] = byte
        pdu = bytes((function, len(data))) + data
        return Reply(pdu, tags=self.meters.take_tags(), torn=tuple(torn))

    def _bytes(self, register: Register) -> bytes:
        serial = self.serial if self.posing_as is None else self.posing_as
        if register.kind == "text":
            text = self.meters.rig.scene.supply.identity(serial).encode("ascii")
            return text[: 2 * register.width].ljust(2 * register.width, b"\0")
        if register.quantity == "serial":
            bits = pack(serial, register.kind, 1.0)
        elif register.quantity == "status":
            bits = pack(self.registers.status.number(self.meters.mode), register.kind, 1.0)
        else:
            # One count of a float would be a whole volt: its tags have digits behind the point.
            step = 0.001 * register.scale if register.kind == "float32" else register.scale
            value = self.meters.show(register.quantity, step)
            bits = register.no_value or 0
            if value is not None:
                bits = pack(value, register.kind, register.scale)
        return arrange(bits, register.kind, register.order)
