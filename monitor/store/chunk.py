"""Rows of a run in, one sealed chunk of them out, and the rows back again, equal to the bit.

A row here is a tuple of SAMPLE_COLUMNS.
"""

import hashlib
import sys
from array import array
from collections.abc import Callable, Iterable, Sequence

from monitor.store.mapping import Row
from monitor.store.packing import (
    Entries,
    pack_ints,
    pack_optional,
    pack_texts,
    pack_values,
    unpack_ints,
    unpack_optional,
    unpack_texts,
    unpack_values,
)
from monitor.store.tables import SAMPLE_COLUMNS

CHUNK_ROWS = 4096
MOST_ROWS = 65_536
"""Rows of a chunk that a reader accepts."""

NAMES = tuple(SAMPLE_COLUMNS.split(", "))
CHUNK_CELLS = ", ".join(f"{name}_packed" for name in NAMES)
"""The chunk's columns, one for each of the samples'."""

_VALUES = {"volts", "amps", "celsius"}
_OPTIONAL = {*_VALUES, "latency_us"}


def packed(rows: Sequence[Row]) -> tuple[list[bytes], bytes]:
    """The cells of a chunk, and the digest of its rows.

    Raises
    ------
    ValueError
        The rows do not come back as they were: nothing may be removed on the strength of this.
    """
    columns = list(zip(*rows, strict=True))
    cells = [_pack(name, entries) for name, entries in zip(NAMES, columns, strict=True)]
    digest = digest_of(columns)
    back = [unpacked(name, cell, len(rows)) for name, cell in zip(NAMES, cells, strict=True)]
    if digest_of(back) != digest:
        raise ValueError("a chunk that does not unpack to its own rows")
    return cells, digest


def unpacked(name: str, cell: bytes, count: int, hole: float | None = None) -> Entries:
    """One column of a chunk.

    Parameters
    ----------
    name
        Of the column, one of NAMES.
    count
        Rows of the chunk.
    hole
        What stands where there is no value.

    Raises
    ------
    ValueError
        The cell does not hold `count` entries.
    """
    if not 0 < count <= MOST_ROWS:
        raise ValueError(f"a chunk of {count} rows")
    if name == "reason":
        return unpack_texts(cell, count)
    unpack: Callable[[bytes, int], Entries] = unpack_ints
    if name in _VALUES:
        unpack = unpack_values
    if name not in _OPTIONAL:
        return unpack(cell, count)
    return unpack_optional(cell, count, unpack, hole)


def rows_of(cells: Sequence[bytes], count: int) -> list[Row]:
    """All rows of a chunk.

    Raises
    ------
    ValueError
        The cells do not hold `count` rows.
    """
    columns = [unpacked(name, cell, count) for name, cell in zip(NAMES, cells, strict=True)]
    return list(zip(*columns, strict=True))


def digest_of(columns: Sequence[Entries]) -> bytes:
    """SHA-256 of rows, given as columns, in a form that no way of packing changes."""
    told = hashlib.sha256()
    for name, entries in zip(NAMES, columns, strict=True):
        if name == "reason":
            # Zero bytes cannot be in a text of SQLite's that came through Python whole.
            told.update("\0".join("-" if one is None else f"+{one}" for one in entries).encode())
            continue
        kind = "d" if name in _VALUES else "q"
        if name in _OPTIONAL:
            told.update(bytes([one is not None for one in entries]))
            entries = [0 if one is None else one for one in entries]
        numbers = array(kind, entries)
        if sys.byteorder == "big":
            numbers.byteswap()
        told.update(numbers.tobytes())
    return told.digest()


def digest_of_run(digests: Iterable[bytes]) -> bytes:
    """SHA-256 of a run: of its chunks' digests, in order."""
    return hashlib.sha256(b"".join(digests)).digest()


def _pack(name: str, entries: Entries) -> bytes:
    if name == "reason":
        return pack_texts(entries)
    pack: Callable[[Entries], bytes] = pack_values if name in _VALUES else pack_ints
    return pack_optional(entries, pack) if name in _OPTIONAL else pack(entries)
