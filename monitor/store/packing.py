"""One column of numbers or texts in, few bytes out, and back again to the bit.

Numbers become whole numbers (a meter's decimals times a power of ten, or a float's own bits), then
steps from one to the next, then bytes laid by their weight, then zlib. Bytes that come in are taken
for a stranger's: nothing grows beyond what the number of rows allows.
"""

import json
import struct
import sys
import zlib
from array import array
from collections.abc import Callable, Iterable, Sequence
from itertools import accumulate, repeat
from operator import add, sub, truediv
from typing import Any, TypeAlias

Entries: TypeAlias = Sequence[Any]  # of one column: numbers or texts, None where there is none

MOST_TEXT = 4_000_000
"""Bytes that the texts of one column may take."""
MOST_DECIMALS = 6

_HEAD = struct.Struct("<cqq")
_UNSIGNED = (("B", 1 << 8), ("H", 1 << 16), ("I", 1 << 32), ("Q", 1 << 64))
_PLAIN = b"="
_INT64 = 1 << 63

_BITS_64, _BITS_32 = 100, 101
"""Kinds of values beside the number of decimals."""


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
    words = {text: number for number, text in enumerate(dict.fromkeys(filter(_is_text, texts)))}
    if not words:
        return b""
    at = [-1 if text is None else words[text] for text in texts]
    return zlib.compress(json.dumps([list(words), at], separators=(",", ":")).encode())


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
        words, at = json.loads(_unzip(blob, MOST_TEXT, exactly=False))
        texts = [None if number == -1 else words[number] for number in at]
    except (TypeError, IndexError, KeyError, RecursionError) as error:
        raise ValueError(f"texts that cannot be unpacked ({error})") from error
    if len(texts) != count or not all(text is None or isinstance(text, str) for text in texts):
        raise ValueError("texts that are none")
    return texts


def pack_presence(values: Iterable[object]) -> bytes:
    """Which entries are there and which are None; nothing where all are there."""
    there = bytes([value is not None for value in values])
    return b"" if all(there) else zlib.compress(there)


def unpack_presence(blob: bytes, count: int) -> bytes:
    """A byte for each entry, 0 where it is None; empty where all are there.

    Raises
    ------
    ValueError
        These bytes do not tell of `count` entries.
    """
    return _unzip(blob, count) if blob else b""


def pack_optional(entries: Entries, pack: Callable[[Entries], bytes]) -> bytes:
    """Numbers of which some may be None: which are there, then those that are."""
    presence = pack_presence(entries)
    if presence:
        entries = [one for one in entries if one is not None]
    return len(presence).to_bytes(4, "little") + presence + pack(entries)


def unpack_optional(
    cell: bytes, count: int, unpack: Callable[[bytes, int], Entries], hole: float | None = None
) -> Entries:
    """What `pack_optional` packed, with `hole` where there is no value.

    Raises
    ------
    ValueError
        These bytes do not hold `count` entries.
    """
    length = int.from_bytes(cell[:4], "little")
    presence, rest = unpack_presence(cell[4 : 4 + length], count), cell[4 + length :]
    if not presence:
        return unpack(rest, count)
    there = iter(unpack(rest, sum(presence)))
    return [next(there) if one else hole for one in presence]


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
    return b"".join(data[at :: numbers.itemsize] for at in range(numbers.itemsize))


def _from_weight(kind: str, packed: "bytes | memoryview", count: int) -> "array[int]":
    numbers = array(kind)
    data = _unzip(packed, count * numbers.itemsize)
    laid = bytearray(len(data))
    for at in range(numbers.itemsize):
        laid[at :: numbers.itemsize] = data[at * count : (at + 1) * count]
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


def _is_text(text: str | None) -> bool:
    return text is not None
