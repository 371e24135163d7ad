"""The options of a Modbus address: the unit, and how frames are framed.

Read without pydantic, which `bathvigil find` must not wait for.
"""

from drivers.address import Address
from drivers.link.serial_settings import SerialSettings
from drivers.modbus.register_question import SERIAL_UNITS, UNITS
from drivers.options import LinkOptions, choice, whole

UNIT_SERIAL = whole(
    "a number from 1 to 247; 0 would address all units at once", lambda unit: unit in SERIAL_UNITS
)
UNIT_TCP = whole("a number from 0 to 255", lambda unit: unit in UNITS)
UNIT_SERIAL_OVER_TCP = whole(
    "a number from 1 to 255; 0 would address all units at once", lambda unit: 1 <= unit <= 255
)
FRAMING_SERIAL = choice("rtu or ascii", {each: each for each in ("rtu", "ascii")})
FRAMING_TCP = choice("tcp, rtu or ascii", {each: each for each in ("tcp", "rtu", "ascii")})
ASCII_SERIAL = SerialSettings(parity="even", data_bits=7)
"""Modbus over Serial Line V1.02, 2.5.2."""


def framing_and_unit(address: Address, options: LinkOptions) -> tuple[str, int]:
    """The framing, "tcp", "rtu" or "ascii", and the unit, as the options say or as is usual.

    Raises
    ------
    BadAddress
    """
    if address.path is not None:
        framing = options.value("framing", FRAMING_SERIAL) or "rtu"
        unit = options.value("unit", UNIT_SERIAL)
    else:
        framing = options.value("framing", FRAMING_TCP) or "tcp"
        unit = options.value("unit", UNIT_TCP if framing == "tcp" else UNIT_SERIAL_OVER_TCP)
    return framing, 1 if unit is None else unit
