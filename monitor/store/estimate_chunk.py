"""Estimates of a run in, one sealed chunk of them out, and those that were kept back again.

A row here is a tuple of `ESTIMATES.columns`, rounded as `ESTIMATES` rounds.
"""

import hashlib
import struct
from collections.abc import Iterable, Sequence

from monitor.store.chunk import MOST_ROWS
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
from monitor.store.tables import ESTIMATES

ROWS_APART = 5
"""Where nothing happens, one estimate for so many polls is kept: one a second at 5 Hz."""
NEAR_NS = 60_000_000_000
"""So near to anything that happened every estimate is kept."""

_NAMES = ESTIMATES.names
_INTS = {"seq", "t_ns", "in_contact"}
_TEXTS = {"why", "hottest"}
_STATES = tuple(_NAMES.index(name) for name in ("why", "hottest", "in_contact"))
_LENGTH = struct.Struct("<I")


def thinned(rows: Sequence[Row], happened_ns: Iterable[int]) -> list[Row]:
    """The estimates that are kept: never is one across an event, or a change in words, dropped.

    Parameters
    ----------
    happened_ns
        When something happened, in `t_ns`: alarms, prompts, marks, gaps.

    Examples
    --------
    >>> rows = [(seq, seq * 10**9, *[None] * 25) for seq in range(200)]
    >>> [row[0] for row in thinned(rows, [])][:3]
    [0, 5, 10]
    >>> len(thinned(rows, [100 * 10**9]))
    136
    """
    moments = sorted(happened_ns)
    kept: list[Row] = []
    at = 0
    for row in rows:
        seq, t_ns = row[0], row[1]
        while at < len(moments) and moments[at] < t_ns - NEAR_NS:
            at += 1
        is_near = at < len(moments) and moments[at] <= t_ns + NEAR_NS
        is_due = not kept or seq - kept[-1][0] >= ROWS_APART
        if is_near or is_due or any(row[one] != kept[-1][one] for one in _STATES):
            kept.append(row)
    return kept


def packed(rows: Sequence[Row]) -> bytes:
    """A chunk of rows.

    Raises
    ------
    ValueError
        The rows do not come back as they were: nothing may be removed on the strength of this.
    """
    cells = [
        _pack(name, entries) for name, entries in zip(_NAMES, zip(*rows, strict=True), strict=True)
    ]
    blob = b"".join(_LENGTH.pack(len(cell)) + cell for cell in cells)
    if unpacked(blob, len(rows)) != list(rows):
        raise ValueError("a chunk of estimates that does not unpack to its own rows")
    return blob


def unpacked(blob: bytes, count: int) -> list[Row]:
    """The rows of a chunk.

    Raises
    ------
    ValueError
        The chunk does not hold `count` rows.
    """
    if not 0 < count <= MOST_ROWS:
        raise ValueError(f"a chunk of {count} estimates")
    columns, at = [], 0
    for name in _NAMES:
        if at + _LENGTH.size > len(blob):
            raise ValueError("a chunk of estimates that is too short")
        (length,) = _LENGTH.unpack_from(blob, at)
        at += _LENGTH.size
        columns.append(_unpack(name, blob[at : at + length], count))
        at += length
    return list(zip(*columns, strict=True))


def digest_of(blob: bytes) -> bytes:
    """SHA-256 of a chunk as it was packed."""
    return hashlib.sha256(blob).digest()


def _pack(name: str, entries: Entries) -> bytes:
    if name in _INTS:
        return pack_ints(entries)
    return pack_texts(entries) if name in _TEXTS else pack_optional(entries, pack_values)


def _unpack(name: str, cell: bytes, count: int) -> Entries:
    if name in _INTS:
        return unpack_ints(cell, count)
    return (
        unpack_texts(cell, count) if name in _TEXTS else unpack_optional(cell, count, unpack_values)
    )
