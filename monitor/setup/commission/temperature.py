"""Finds the one way to read a temperature, by what a thermometer or the panel showed.

Pure: no port, no clock. It is read by the function, the counting of addresses and the order of
bytes that were found for volts. Exactly one type and scale must fit at both settings; where several
read the same numbers, it is the narrowest type that can be negative.
"""

from collections.abc import Sequence

from drivers.modbus.register_value import WIDTHS
from monitor.setup.commission.candidates import (
    SCALES,
    Candidate,
    Setting,
    is_of_order,
    value_of,
    ways,
)
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
    alike = (
        candidate
        for candidate in ways(address, SCALES)
        if (candidate.offset, candidate.function) == (volts.offset, volts.function)
        and is_of_order(volts, candidate.order, WIDTHS[candidate.kind])
    )
    for candidate in alike:
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
        fitting = "; or ".join(
            f"{chosen[0].words}: {', '.join(f'{value:g}' for value in read)}"
            for read, chosen in near.items()
        )
        raise Ambiguous(f"{len(near)} ways of reading the temperature fit: {fitting}. Leave it out")
    ((read, chosen),) = near.items()
    for setting, value in zip(settings, read, strict=True):
        if not setting.shown[CELSIUS].fits(value):
            raise NotCommissioned(
                f"the register says {value:g} degrees where {setting.shown[CELSIUS].words} was "
                "shown: is it the same probe, and was it steady?"
            )
    return min(chosen, key=lambda candidate: _PREFERRED.index(candidate.kind))
