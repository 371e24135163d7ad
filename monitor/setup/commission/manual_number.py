"""The number of a register as a manual prints it, and the address that it means on the wire.

Manuals count from 40001 (holding registers) or 30001 (input registers), from 1, from 0, or in
hexadecimal. The Modbus frame counts from 0 (Modbus Application Protocol V1.1b3, 4.4).
"""

import re
from dataclasses import dataclass

from drivers.modbus.register_question import MANUAL_BASES
from monitor.base.errors import WrongUse


@dataclass(frozen=True, slots=True)
class ManualNumber:
    """A register's number as the manual prints it.

    Parameters
    ----------
    text
        As it was typed.
    address
        What it is on the wire, if the manual counts as it seems to.
    function
        The function that its form tells; None where it tells none.
    """

    text: str
    address: int
    function: int | None

    @property
    def words(self) -> str:
        """Both ways of counting."""
        return f"{self.text} in the manual, taken as wire address {self.address}"


def read_manual_number(text: str) -> ManualNumber:
    """Understand a register's number.

    Raises
    ------
    WrongUse

    Examples
    --------
    >>> read_manual_number("40001").address, read_manual_number("30011").function
    (0, 4)
    >>> read_manual_number("0x0100").address, read_manual_number("17").address
    (256, 17)
    """
    clean = text.strip().lower()
    if re.fullmatch(r"0x[0-9a-f]{1,4}|[0-9a-f]{1,4}h", clean):
        return ManualNumber(clean, int(clean.removeprefix("0x").removesuffix("h"), 16), None)
    if not re.fullmatch(r"[0-9]{1,6}", clean):
        raise WrongUse(f"register {text!r}: type its number in the manual, such as 40001 or 0x0100")
    number = int(clean)
    for function, bases in MANUAL_BASES.items():
        for base in bases:
            # A plain "17" may count from 0 or from 1: the register before is tried anyway.
            if base > 1 and len(clean) == len(str(base)) and base <= number < base + 0x10000:
                if base < 100_000 and number >= base + 9999:
                    continue
                return ManualNumber(clean, number - base, function)
    if number > 0xFFFF:
        raise WrongUse(f"register {text!r}: there is none of that number")
    return ManualNumber(clean, number, None)


def read_scale_numbers(text: str) -> tuple[ManualNumber, ...]:
    """Understand one register's number, or two: the scales of volts and of amps.

    Raises
    ------
    WrongUse

    Examples
    --------
    >>> [number.address for number in read_scale_numbers("40003, 40007")]
    [2, 6]
    """
    texts = text.replace(",", " ").split()
    if not 1 <= len(texts) <= 2:
        raise WrongUse(f"{text!r}: type one register, or that of the volts and that of the amps")
    return tuple(read_manual_number(each) for each in texts)
