"""How a number is written into registers: types, word order, byte order.

Modbus sends a register with its high byte first (Application Protocol V1.1b3, 4.2) and says nothing
of values wider than one; makers use all four orders. ABCD names the bytes of a value from the
highest to the lowest; a register of 16 bits is AB in the orders ABCD and CDAB, else BA.
"""

import math
import struct
from typing import Literal, TypeAlias

Kind: TypeAlias = Literal["int16", "uint16", "int32", "uint32", "float32"]
Order: TypeAlias = Literal["ABCD", "CDAB", "BADC", "DCBA"]

KINDS: tuple[Kind, ...] = ("int16", "uint16", "int32", "uint32", "float32")
ORDERS: tuple[Order, ...] = ("ABCD", "CDAB", "BADC", "DCBA")
RANGES: dict[Kind, tuple[int, int]] = {
    "int16": (-(2**15), 2**15 - 1),
    "uint16": (0, 2**16 - 1),
    "int32": (-(2**31), 2**31 - 1),
    "uint32": (0, 2**32 - 1),
}


def width(kind: Kind) -> int:
    """How many registers a value takes."""
    return 1 if kind.endswith("16") else 2


def pack(value: float, kind: Kind, scale: float) -> int:
    """The bits of `value / scale`; what does not fit becomes the nearest that does.

    Examples
    --------
    >>> pack(12.34, "uint16", 0.01)
    1234
    >>> hex(pack(-1.0, "int16", 1.0)), hex(pack(12.5, "float32", 1.0))
    ('0xffff', '0x41480000')
    """
    if kind == "float32":
        return int.from_bytes(struct.pack(">f", value / scale), "big")
    low, high = RANGES[kind]
    counts = round(value / scale) if math.isfinite(value) else high
    return int(min(max(counts, low), high)) & ((1 << 16 * width(kind)) - 1)


def arrange(bits: int, kind: Kind, order: Order) -> bytes:
    """The bytes of a value as they stand in its registers.

    Examples
    --------
    >>> [arrange(0x0A0B0C0D, "uint32", order).hex() for order in ORDERS]
    ['0a0b0c0d', '0c0d0a0b', '0b0a0d0c', '0d0c0b0a']
    >>> [arrange(0x0A0B, "uint16", order).hex() for order in ORDERS]
    ['0a0b', '0a0b', '0b0a', '0b0a']
    """
    plain = bits.to_bytes(2 * width(kind), "big")
    words = [plain[index : index + 2] for index in range(0, len(plain), 2)]
    if order in ("CDAB", "DCBA"):
        words.reverse()
    if order in ("BADC", "DCBA"):
        words = [word[::-1] for word in words]
    return b"".join(words)
