"""How a number lies in one or two registers."""

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, cast

from drivers.number import Number, refused_as_sentinel

RegisterType = Literal["int16", "uint16", "int32", "uint32", "float32"]
ByteOrder = Literal["ABCD", "CDAB", "BADC", "DCBA"]
TYPES: tuple[RegisterType, ...] = ("int16", "uint16", "int32", "uint32", "float32")
ORDERS: tuple[ByteOrder, ...] = ("ABCD", "CDAB", "BADC", "DCBA")
WIDTHS: dict[str, int] = {"int16": 1, "uint16": 1, "int32": 2, "uint32": 2, "float32": 2}

USUAL_NO_VALUES = {1: frozenset({0xFFFF, 0x7FFF, 0x8000}), 2: frozenset({0xFFFFFFFF, 0x7FFFFFFF})}
"""Bits by which devices say "no value", by the width in registers; common practice, no source."""
_USUAL_INTEGER_32 = frozenset({0x80000000})  # as a float it is a plain minus nothing
_FLOAT_NO_VALUE = 3.4e38


def arrange(registers: Sequence[int], order: ByteOrder) -> int:
    """The bits of one or two registers as one unsigned number, A being the highest byte.

    `order` says how A, B, C and D come on the wire. A single register knows only AB (in ABCD
    and CDAB) and BA (in BADC and DCBA).

    Examples
    --------
    >>> f"{arrange((0x1234, 0x5678), 'CDAB'):08X}", f"{arrange((0x1234,), 'BADC'):04X}"
    ('56781234', '3412')
    """
    words = list(registers)
    if order in ("BADC", "DCBA"):
        words = [(word & 0xFF) << 8 | word >> 8 for word in words]
    if len(words) == 1:
        return words[0]
    if order in ("CDAB", "DCBA"):
        words.reverse()
    return words[0] << 16 | words[1]


@dataclass(frozen=True, slots=True)
class RegisterForm:
    """How a number lies in its registers.

    Parameters
    ----------
    kind
        Its type.
    order
        The order of its bytes.
    scale
        What one step is worth, in V, A or degrees Celsius.
    no_values
        Bits (arranged, unsigned) that mean "no value", besides the usual ones.
    true_values
        Bits that do stand for a number here, though they usually mean "no value".

    Examples
    --------
    >>> RegisterForm("uint16", scale=0.01).read((1234,)).value
    12.34
    >>> RegisterForm("uint16", scale=0.01).read((0xFFFF,))
    Number(value=None, why='no value (FFFF)')
    """

    kind: RegisterType
    order: ByteOrder = "ABCD"
    scale: float = 1.0
    no_values: frozenset[int] = frozenset()
    true_values: frozenset[int] = frozenset()

    @property
    def width(self) -> int:
        """How many registers it takes."""
        return WIDTHS[self.kind]

    def bits(self, registers: Sequence[int]) -> int:
        """The arranged bits of its registers."""
        return arrange(registers, self.order)

    def read(self, registers: Sequence[int]) -> Number:
        """The number in as many registers as it takes."""
        bits = self.bits(registers)
        if self._says_no_value(bits):
            return Number(None, f"no value ({bits:0{4 * self.width}X})")
        if self.kind == "float32":
            return self._read_float(bits)
        whole = bits
        if self.kind.startswith("int") and bits >> (16 * self.width - 1):
            whole -= 1 << (16 * self.width)
        # 1234 * 0.01 is 12.34 only after rounding: twelve digits are far more than any meter has.
        return Number(float(f"{whole * self.scale:.12g}"))

    def _says_no_value(self, bits: int) -> bool:
        if bits in self.no_values:
            return True
        usual = USUAL_NO_VALUES[self.width]
        if self.width == 2 and self.kind != "float32":
            usual |= _USUAL_INTEGER_32
        return bits in usual and bits not in self.true_values

    def _read_float(self, bits: int) -> Number:
        value = cast(float, struct.unpack(">f", bits.to_bytes(4, "big"))[0])
        if math.isnan(value):
            return Number(None, f"not a number ({bits:08X})")
        if math.isinf(value) or abs(value) >= _FLOAT_NO_VALUE * (1 - 1e-6):
            return Number(None, f"no value ({value:.3g})")
        why = refused_as_sentinel(value)
        if why is not None:
            return Number(None, why)
        return Number(value * self.scale + 0.0)
