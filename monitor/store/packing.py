"""One column of numbers or texts as a few bytes, and back to the bit.

Numbers become whole numbers (a meter's decimals times a power of ten, or a float's own bits), then
steps from one to the next, then bytes laid by their weight, then zlib. Bytes that come in are taken
for a stranger's: nothing grows beyond what the number of rows allows.

Without numpy, which was tried: no fewer lines, a fifth of the time saved, and a recorder of 46 MB
grew to 62 MB. A 32-bit ARM machine has no wheel of it either.
"""

import json
import struct
import sys
import zlib
from array import array
from collections.abc import Callable, Iterable, Sequence
from enum import Enum, auto
from itertools import accumulate, repeat
from operator import add, sub, truediv
from typing import Any, TypeAlias

Entries: TypeAlias = Sequence[Any]
"""Of one column: numbers or texts, None where there is none."""


class Kind(Enum):
    """What a column holds."""

    INTS = auto()
    OPTIONAL_INTS = auto()
    OPTIONAL_VALUES = auto()
    TEXTS = auto()


MOST_TEXT = 4_000_000
"""Bytes that the texts of one column may take."""
MOST_DECIMALS = 6

_HEAD = struct.Struct("<cqq")
_UNSIGNED = (("B", 1 << 8), ("H", 1 << 16), ("I", 1 << 32), ("Q", 1 << 64))
_PLAIN = b"="
_INT64 = 1 << 63

_BITS_64, _BITS_32 = 100, 101
"""Kinds of values beside the number of decimals."""


def pack(kind: Kind, entries: Entries) -> bytes:
    """A column of one kind."""
    if kind is Kind.TEXTS:
        return pack_texts(entries)
    if kind is Kind.INTS:
        return pack_ints(entries)
    presence = pack_presence(entries)
    if presence:
        entries = [entry for entry in entries if entry is not None]
    packed = pack_ints(entries) if kind is Kind.OPTIONAL_INTS else pack_values(entries)
    return len(presence).to_bytes(4, "little") + presence + packed


def unpack(kind: Kind, cell: bytes, count: int) -> Entries:
    """What `pack` packed.

    Raises
    ------
    ValueError
        These bytes do not hold `count` entries.
    """
    if kind is Kind.TEXTS:
        return unpack_texts(cell, count)
    if kind is Kind.INTS:
        return unpack_ints(cell, count)
    length = int.from_bytes(cell[:4], "little")
    presence, rest = unpack_presence(cell[4 : 4 + length], count), cell[4 + length :]
    unpack_some: Callable[[bytes, int], Entries] = (
        unpack_ints if kind is Kind.OPTIONAL_INTS else unpack_values
    )
    if not presence:
        return unpack_some(rest, count)
    entries = iter(unpack_some(rest, sum(map(bool, presence))))
    return [next(entries) if is_there else None for is_there in presence]


def pack_ints(values: Sequence[int]) -> bytes:
    """Whole numbers of 64 bits.

    Examples
    --------
    >>> unpack_ints(pack_ints([5, 7, 9, 2**62]), 4).tolist()[-1] == 2**62
    True
    """
    if not values:
        return b""
    steps = list(map(sub, values[1:], values))
    base, most = min(steps, default=0), max(steps, default=0)
    kind = next((kind for kind, limit in _UNSIGNED if most - base < limit), None)
    if kind is None or not -_INT64 <= base < _INT64:
        packed = _by_weight(array("q", values))
        return _HEAD.pack(_PLAIN, 0, 0) + zlib.compress(packed)
    packed = _by_weight(array(kind, [step - base for step in steps]))
    return _HEAD.pack(kind.encode(), values[0], base) + zlib.compress(packed)


def unpack_ints(blob: bytes, count: int) -> "array[int]":
    """What `pack_ints` packed.

    Raises
    ------
    ValueError
        These bytes do not hold `count` numbers.
    """
    if not count:
        return array("q")
    try:
        kind, first, base = _HEAD.unpack_from(blob)
        packed = memoryview(blob)[_HEAD.size :]
        if kind == _PLAIN:
            return _from_weight("q", packed, count)
        if kind not in b"BHIQ":
            raise ValueError("a column of an unknown kind")
        steps = _from_weight(kind.decode(), packed, count - 1)
        if base:
            return array("q", accumulate(map(add, steps, repeat(base)), initial=first))
        return array("q", accumulate(steps, initial=first))
    except (struct.error, OverflowError) as error:
        raise ValueError(f"a column that cannot be unpacked ({error})") from error


def pack_values(values: Sequence[float]) -> bytes:
    """Numbers as SQLite holds them: 64 bits, none of them NaN."""
    if not values:
        return b""
    exact = array("d", values)
    for decimals in range(MOST_DECIMALS + 1):
        whole = _scaled(exact, decimals)
        if whole is not None:
            return bytes([decimals]) + pack_ints(whole)
    short = array("f", exact)
    if array("d", short).tobytes() == exact.tobytes():
        return bytes([_BITS_32]) + pack_ints(array("I", short.tobytes()))
    return bytes([_BITS_64]) + pack_ints(array("q", exact.tobytes()))


def unpack_values(blob: bytes, count: int) -> "array[float]":
    """What `pack_values` packed.

    Raises
    ------
    ValueError
        These bytes do not hold `count` numbers.
    """
    if not count:
        return array("d")
    if not blob:
        raise ValueError("a column without its values")
    kind, whole = blob[0], unpack_ints(blob[1:], count)
    if kind <= MOST_DECIMALS:
        return array("d", map(truediv, whole, repeat(10**kind)))
    if kind == _BITS_64:
        return array("d", whole.tobytes())
    if kind != _BITS_32:
        raise ValueError("values of an unknown kind")
    try:
        return array("d", array("f", array("I", whole).tobytes()))
    except OverflowError as error:
        raise ValueError("values that are none") from error


def pack_texts(texts: Sequence[str | None]) -> bytes:
    """Texts, most of them None or equal to others."""
    distinct = [text for text in dict.fromkeys(texts) if text is not None]
    if not distinct:
        return b""
    numbers: dict[str | None, int] = {text: number for number, text in enumerate(distinct)}
    numbers[None] = -1
    chosen = [numbers[text] for text in texts]
    return zlib.compress(json.dumps([distinct, chosen], separators=(",", ":")).encode())


def unpack_texts(blob: bytes, count: int) -> list[str | None]:
    """What `pack_texts` packed.

    Raises
    ------
    ValueError
        These bytes do not hold `count` texts.
    """
    if not blob:
        return [None] * count
    try:
        distinct, chosen = json.loads(_unzip(blob, MOST_TEXT, exactly=False))
        texts = [None if number == -1 else distinct[number] for number in chosen]
    except (TypeError, IndexError, KeyError, RecursionError) as error:
        raise ValueError(f"texts that cannot be unpacked ({error})") from error
    if len(texts) != count or not all(text is None or isinstance(text, str) for text in texts):
        raise ValueError("texts that are none")
    return texts


def pack_presence(values: Iterable[object]) -> bytes:
    """Which entries are there and which are None; nothing where all are there."""
    is_there = bytes([value is not None for value in values])
    return b"" if all(is_there) else zlib.compress(is_there)


def unpack_presence(blob: bytes, count: int) -> bytes:
    """A byte for each entry, 0 where it is None; empty where all are there.

    Raises
    ------
    ValueError
        These bytes do not tell of `count` entries.
    """
    return _unzip(blob, count) if blob else b""


def _scaled(exact: "array[float]", decimals: int) -> list[int] | None:
    """The values times a power of ten, if that loses no bit of any of them."""
    scale = 10**decimals
    # Most columns fail on their first values, so that few are tried as a whole.
    for some in (exact[:8], exact):
        try:
            whole = list(map(round, [value * scale for value in some]))
            back = array("d", map(truediv, whole, repeat(scale)))
        except (OverflowError, ValueError):
            return None
        if back.tobytes() != some.tobytes() or max(map(abs, whole)) >= _INT64:
            return None
    return whole


def _by_weight(numbers: "array[int]") -> bytes:
    """The bytes of all numbers, those of the lowest weight first."""
    if sys.byteorder == "big":
        numbers.byteswap()
    data = numbers.tobytes()
    return b"".join(data[weight :: numbers.itemsize] for weight in range(numbers.itemsize))


def _from_weight(kind: str, packed: "bytes | memoryview", count: int) -> "array[int]":
    numbers = array(kind)
    data = _unzip(packed, count * numbers.itemsize)
    laid = bytearray(len(data))
    for weight in range(numbers.itemsize):
        laid[weight :: numbers.itemsize] = data[weight * count : (weight + 1) * count]
    numbers.frombytes(laid)
    if sys.byteorder == "big":
        numbers.byteswap()
    return numbers


def _unzip(packed: "bytes | memoryview", most: int, *, exactly: bool = True) -> bytes:
    opened = zlib.decompressobj()
    try:
        data = opened.decompress(packed, most + 1)
    except zlib.error as error:
        raise ValueError(f"a column that cannot be unpacked ({error})") from error
    if not opened.eof or len(data) > most or (exactly and len(data) != most):
        raise ValueError("a column of the wrong length")
    return data
