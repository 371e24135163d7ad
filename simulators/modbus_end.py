"""The supply's end of a Modbus link on TCP or on a serial line, with one unit or several.

1. A broadcast (unit 0) on a serial line is put on record as a command and never answered.
2. A unit that is not there, or is mute, does not answer. A gateway on TCP answers for
   it: exception 0A for one that is not there, 0B for one that is mute.
3. A serial frame is as long as its function says; one of unknown length ends with a silence.
4. A frame whose check is wrong is not answered, and nothing is understood before a silence.
5. A frame on TCP with a header that cannot be drops all that has come with it.
"""

from collections.abc import Mapping

from simulators.exchange import Exchange, Records
from simulators.modbus_frame import (
    MBAP_BYTES,
    MOST_RTU_BYTES,
    is_rtu_sound,
    parse_mbap,
    rtu_frame,
    rtu_length,
    tcp_frame,
)
from simulators.modbus_unit import GATEWAY_PATH, GATEWAY_TARGET, ModbusUnit, Reply, refuse

BROADCAST = 0
# Long enough for a caller that is held up between two bytes, short enough for any time-out.
QUIET_S = 0.02

Units = Mapping[int, ModbusUnit]


class _ModbusEnd(Records):
    def __init__(self, units: Units) -> None:
        super().__init__(next(iter(units.values())).meters.rig)
        self._units = units

    def pose_as(self, serial: int | None) -> None:
        """Give all units out for another one."""
        for unit in self._units.values():
            unit.posing_as = serial

    def restart(self) -> None:
        """Be as after switching on."""
        self._buffer.clear()
        for unit in self._units.values():
            unit.restart()

    def _advance(self, t_s: float) -> None:
        for unit in self._units.values():
            unit.meters.rig.advance_to(t_s)

    def _shown(self, data: bytes) -> str:
        return data.hex(" ")

    def _note(self, asked: bytes, sent: bytes, t_s: float, unit: int, reply: Reply) -> None:
        device = self._units.get(unit)
        rig = self._first_rig if device is None else device.meters.rig
        self._say(
            Exchange(
                t_s,
                asked.hex(" "),
                sent.hex(" ") or None,
                rig.truth(),
                reply.commands,
                asked=asked,
                sent=sent,
                unit=unit,
                tags=reply.tags,
                torn=reply.torn,
            )
        )


class ModbusRtuEnd(_ModbusEnd):
    """The end of a serial line.

    Examples
    --------
    >>> from simulators.meters import Meters
    >>> from simulators.register_map import load_map
    >>> from simulators.rig import Rig
    >>> from simulators.scene import load_scene
    >>> meters = Meters(Rig(load_scene("quiet-strip")))
    >>> end = ModbusRtuEnd({1: ModbusUnit(load_map("supply-uint16"), meters, serial=7)})
    >>> end.feed(bytes.fromhex("01 03 00 10 00 02 C5 CE"), t_s=0.0)
    >>> end.take().hex(" ")
    '01 03 04 00 00 00 07 bb f1'
    """

    quiet_s = QUIET_S

    def __init__(self, units: Units) -> None:
        super().__init__(units)
        self._is_deaf = False

    @property
    def has_part(self) -> bool:
        """True while it waits for the rest of a frame, or for the end of what is none."""
        return bool(self._buffer) or self._is_deaf

    def feed(self, data: bytes, t_s: float) -> None:
        """Take bytes that came at so many seconds of bath time."""
        self._advance(t_s)
        if self._is_deaf:
            return
        self._buffer += data
        while (length := rtu_length(self._buffer)) and len(self._buffer) >= length:
            frame = bytes(self._buffer[:length])
            if not is_rtu_sound(frame):
                self._drop(t_s)
                return
            del self._buffer[:length]
            self._answer(frame, t_s)
        if len(self._buffer) > MOST_RTU_BYTES:
            self._drop(t_s)

    def pause(self, t_s: float) -> None:
        """Hear a silence: what has come is a frame, or nothing."""
        self._is_deaf = False
        frame = bytes(self._buffer)
        self._buffer.clear()
        if is_rtu_sound(frame) and rtu_length(frame) == 0:
            self._advance(t_s)
            self._answer(frame, t_s)
        elif frame:
            self._exchanges.append(self.unheard(frame, t_s))

    def restart(self) -> None:
        """Be as after switching on."""
        super().restart()
        self._is_deaf = False

    def refusal(self, asked: bytes, code: int) -> bytes:
        """The answer that refuses a frame; nothing for a broadcast or what is no frame."""
        if len(asked) < 2 or asked[0] == BROADCAST:
            return b""
        return rtu_frame(asked[0], refuse(asked[1], code))

    def _drop(self, t_s: float) -> None:
        self._exchanges.append(self.unheard(bytes(self._buffer), t_s))
        self._buffer.clear()
        self._is_deaf = True

    def _answer(self, frame: bytes, t_s: float) -> None:
        number, pdu = frame[0], frame[1:-2]
        unit = self._units.get(number)
        if number == BROADCAST:
            reply = Reply(b"", (f"broadcast of function {pdu[0]:02X}",))
        elif unit is None:  # put on record what was tried, though there is nobody to do it
            reply = Reply(b"", next(iter(self._units.values())).answer(pdu).commands)
        else:
            reply = unit.answer(pdu)
        is_silent = unit is None or unit.is_mute
        sent = b"" if is_silent else rtu_frame(number, reply.pdu)
        self._note(frame, sent, t_s, number, reply)


class ModbusTcpEnd(_ModbusEnd):
    """The end of a TCP connection.

    Parameters
    ----------
    units
        By unit number.
    is_gateway
        Answers for those units that cannot (rule 2).
    """

    def __init__(self, units: Units, *, is_gateway: bool = False) -> None:
        super().__init__(units)
        self._is_gateway = is_gateway

    def feed(self, data: bytes, t_s: float) -> None:
        """Take bytes that came at so many seconds of bath time."""
        self._advance(t_s)
        self._buffer += data
        while len(self._buffer) >= MBAP_BYTES:
            head = parse_mbap(self._buffer)
            if not head.is_possible:
                self._exchanges.append(self.unheard(bytes(self._buffer), t_s))
                self._buffer.clear()
                return
            end = MBAP_BYTES - 1 + head.length
            if len(self._buffer) < end:
                return
            frame = bytes(self._buffer[:end])
            del self._buffer[:end]
            self._answer(frame, head.transaction, head.unit, t_s)

    def refusal(self, asked: bytes, code: int) -> bytes:
        """The answer that refuses a frame; nothing for what is no frame."""
        if len(asked) <= MBAP_BYTES:
            return b""
        head = parse_mbap(asked)
        return tcp_frame(head.transaction, head.unit, refuse(asked[MBAP_BYTES], code))

    def _answer(self, frame: bytes, transaction: int, number: int, t_s: float) -> None:
        pdu = frame[MBAP_BYTES:]
        unit = self._units.get(number)
        some_unit = next(iter(self._units.values())) if unit is None else unit
        if unit is not None and not unit.is_mute:
            reply = unit.answer(pdu)
        elif self._is_gateway:
            code = GATEWAY_PATH if unit is None else GATEWAY_TARGET
            reply = Reply(refuse(pdu[0], code), some_unit.answer(pdu).commands)
        else:
            reply = Reply(b"", some_unit.answer(pdu).commands)
        sent = tcp_frame(transaction, number, reply.pdu) if reply.pdu else b""
        self._note(frame, sent, t_s, number, reply)
