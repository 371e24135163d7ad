"""Modbus instruments of the commonest manners, each of another library."""

from tests.drivers.instruments.instrument import Instrument
from tests.drivers.instruments.registers import (
    at,
    of_modbus_tk,
    of_pymodbus,
    of_pymodbustcp,
    of_umodbus,
    u16,
    words,
)

PAIR = {"volts_at": "40001", "amps_at": "40002", "type": "uint16"}

INSTRUMENTS = (
    Instrument(
        "modbus, two words, TCP",
        "modbus",
        "tcp",
        of_pymodbustcp(lambda t: at(0, u16(100 * t.volts()) + u16(100 * t.amps()))),
        PAIR,
        by_line=False,
    ),
    Instrument(
        "modbus, floats with words swapped, function 4",
        "modbus",
        "tcp",
        of_pymodbustcp(
            lambda t: at(8, words(">f", t.volts(), "CDAB") + words(">f", t.amps(), "CDAB")), 4
        ),
        {"volts_at": "30009", "amps_at": "30011", "type": "float32", "order": "CDAB"},
        by_line=False,
    ),
    Instrument(
        "modbus, 16-bit volts and 32-bit milliamps",
        "modbus",
        "pty",
        of_modbus_tk(lambda t: at(16, u16(100 * t.volts()) + words(">I", 1000 * t.amps()))),
        {"volts_at": "40017", "amps_at": "40018", "volts_type": "uint16", "amps_type": "uint32"},
        "?parity=none",
        by_line=False,
        amps_step=0.001,
    ),
    Instrument(
        "modbus, millivolts signed, alone in their registers",
        "modbus",
        "pty",
        of_umodbus(lambda t: at(256, u16(1000 * t.volts()) + u16(100 * t.amps())), unit=3),
        {"volts_at": "40257", "amps_at": "40258", "type": "int16"},
        "?parity=none&unit=3",
        by_line=False,
    ),
    Instrument(
        "modbus, the server of pymodbus",
        "modbus",
        "tcp",
        of_pymodbus(lambda t: at(10, u16(100 * t.volts()) + u16(100 * t.amps()))),
        {"volts_at": "40011", "amps_at": "40012", "type": "uint16"},
        by_line=False,
    ),
)
