"""Registers and what a thermometer or the panel shows in, the way to read the temperature out.

Pure: no port, no clock. It is read by the function, the counting of addresses and the order of
bytes that were found for volts. Exactly one type and scale must fit at both settings; where several
read the same numbers, it is the narrowest type that can be negative.
"""

from collections.abc import Iterator, Sequence
from itertools import product

from drivers.modbus.register_value import ORDERS, TYPES, WIDTHS
from monitor.setup.commission.candidates import SCALES, Candidate, Setting, is_of_order, value_of
from monitor.setup.commission.errors import Ambiguous, NotCommissioned

CELSIUS = "celsius"
_PREFERRED = ("int16", "int32", "float32", "uint16", "uint32")


def find_temperature(settings: Sequence[Setting], address: int, volts: Candidate) -> Candidate:
    """How a temperature is read.

    Parameters
    ----------
    address
        Where the manual says that it is, on the wire, as the volts' was taken to be.
    volts
        What was found for the volts.

    Raises
    ------
    Ambiguous, NotCommissioned
    """
    near: dict[tuple[float, ...], list[Candidate]] = {}
    for candidate in _all(address + volts.offset, volts):
        read = tuple(
            value
            for setting in settings
            if (value := value_of(candidate, setting)) is not None
            and setting.shown[CELSIUS].is_near(value)
        )
        if len(read) == len(settings):
            near.setdefault(read, []).append(candidate)
    shown = ", ".join(setting.shown[CELSIUS].words for setting in settings)
    if not near:
        raise NotCommissioned(
            f"no way of reading the register at {address + volts.offset} gives the temperature "
            f"that was shown ({shown}): check its number, or leave it out"
        )
    if len(near) > 1:
        told = "; or ".join(
            f"{chosen[0].words}: {', '.join(f'{value:g}' for value in read)}"
            for read, chosen in near.items()
        )
        raise Ambiguous(f"{len(near)} ways of reading the temperature fit: {told}. Leave it out")
    ((read, chosen),) = near.items()
    for setting, value in zip(settings, read, strict=True):
        if not setting.shown[CELSIUS].fits(value):
            raise NotCommissioned(
                f"the register says {value:g} degrees where {setting.shown[CELSIUS].words} was "
                "shown: is it the same probe, and was it steady?"
            )
    return min(chosen, key=lambda one: _PREFERRED.index(one.kind))


def _all(place: int, volts: Candidate) -> Iterator[Candidate]:
    for kind, order, scale in product(TYPES, ORDERS, SCALES):
        width = WIDTHS[kind]
        # A single register has only two orders, written by the first of each.
        if not 0 <= place <= 0x10000 - width or (width == 1 and order not in ORDERS[::2]):
            continue
        if is_of_order(volts, order, width):
            yield Candidate(volts.offset, volts.function, place, kind, order, scale)
