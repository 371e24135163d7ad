"""Rows as one sealed chunk of a few bytes each, and the rows back, equal to the bit.

A row of samples is a tuple of SAMPLE_COLUMNS, a row of estimates one of `ESTIMATES.columns`.
"""

import hashlib
import struct
import sys
from array import array
from collections.abc import Sequence

from monitor.store.mapping import Row
from monitor.store.packing import Entries, Kind, pack, unpack
from monitor.store.tables import ESTIMATES, SAMPLE_NAMES

MOST_ROWS = 65_536
"""Rows of a chunk that a reader accepts."""

_KINDS = dict.fromkeys(SAMPLE_NAMES, Kind.INTS) | {
    "latency_us": Kind.OPTIONAL_INTS,
    "volts": Kind.OPTIONAL_VALUES,
    "amps": Kind.OPTIONAL_VALUES,
    "celsius": Kind.OPTIONAL_VALUES,
    "reason": Kind.TEXTS,
}
_ESTIMATE_KINDS = dict.fromkeys(ESTIMATES.names, Kind.OPTIONAL_VALUES) | {
    "seq": Kind.INTS,
    "t_ns": Kind.INTS,
    "in_contact": Kind.INTS,
    "why": Kind.TEXTS,
    "hottest": Kind.TEXTS,
}
_LENGTH = struct.Struct("<I")


def pack_samples(rows: Sequence[Row]) -> tuple[list[bytes], bytes]:
    """The cells of a chunk, one a column, and the digest of its rows.

    Raises
    ------
    ValueError
        The rows do not come back as they were: nothing may be removed on the strength of this.
    """
    columns = list(zip(*rows, strict=True))
    cells = [pack(_KINDS[name], entries) for name, entries in zip(_KINDS, columns, strict=True)]
    digest = digest_of(columns)
    if digest_of(_unpack_columns(cells, len(rows))) != digest:
        raise ValueError("a chunk that does not unpack to its own rows")
    return cells, digest


def unpack_column(name: str, cell: bytes, count: int) -> Entries:
    """One column of a chunk of samples.

    Parameters
    ----------
    name
        Of the column, one of SAMPLE_NAMES.
    count
        Rows of the chunk.

    Raises
    ------
    ValueError
        The cell does not hold `count` entries.
    """
    if not 0 < count <= MOST_ROWS:
        raise ValueError(f"a chunk of {count} rows")
    return unpack(_KINDS[name], cell, count)


def unpack_samples(cells: Sequence[bytes], count: int) -> list[Row]:
    """All rows of a chunk.

    Raises
    ------
    ValueError
        The cells do not hold `count` rows.
    """
    return list(zip(*_unpack_columns(cells, count), strict=True))


def digest_of(columns: Sequence[Entries]) -> bytes:
    """SHA-256 of samples, given as columns, in a form that no way of packing changes."""
    digest = hashlib.sha256()
    for kind, entries in zip(_KINDS.values(), columns, strict=True):
        if kind is Kind.TEXTS:
            # Zero bytes cannot be in a text of SQLite's that came through Python whole.
            texts = ["-" if text is None else f"+{text}" for text in entries]
            digest.update("\0".join(texts).encode())
            continue
        if kind is not Kind.INTS:
            digest.update(bytes([entry is not None for entry in entries]))
            entries = [0 if entry is None else entry for entry in entries]
        numbers = array("d" if kind is Kind.OPTIONAL_VALUES else "q", entries)
        if sys.byteorder == "big":
            numbers.byteswap()
        digest.update(numbers.tobytes())
    return digest.digest()


def _unpack_columns(cells: Sequence[bytes], count: int) -> list[Entries]:
    return [unpack_column(name, cell, count) for name, cell in zip(_KINDS, cells, strict=True)]


def pack_estimates(rows: Sequence[Row]) -> bytes:
    """A chunk of estimates, rounded as `ESTIMATES` rounds.

    Raises
    ------
    ValueError
        The rows do not come back as they were: nothing may be removed on the strength of this.
    """
    columns = zip(_ESTIMATE_KINDS.values(), zip(*rows, strict=True), strict=True)
    cells = [pack(kind, entries) for kind, entries in columns]
    blob = b"".join(_LENGTH.pack(len(cell)) + cell for cell in cells)
    if unpack_estimates(blob, len(rows)) != list(rows):
        raise ValueError("a chunk of estimates that does not unpack to its own rows")
    return blob


def unpack_estimates(blob: bytes, count: int) -> list[Row]:
    """The rows of a chunk of estimates.

    Raises
    ------
    ValueError
        The chunk does not hold `count` rows.
    """
    if not 0 < count <= MOST_ROWS:
        raise ValueError(f"a chunk of {count} estimates")
    columns, place = [], 0
    for kind in _ESTIMATE_KINDS.values():
        if place + _LENGTH.size > len(blob):
            raise ValueError("a chunk of estimates that is too short")
        (length,) = _LENGTH.unpack_from(blob, place)
        place += _LENGTH.size
        columns.append(unpack(kind, blob[place : place + length], count))
        place += length
    return list(zip(*columns, strict=True))
