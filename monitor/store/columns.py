"""The columns of a chart: lowest, highest and mean, so that no spike of one sample is lost."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.model.run import GapRow


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a chart: what lies between two moments of a run.

    Parameters
    ----------
    from_s, to_s
        Seconds since the run began; the second belongs to the next column, except in the last.
    samples
        Answered polls that are not suspect.
    suspect
        Answered polls whose values are doubtful; no other figure counts them.
    missing
        Polls without an answer.
    is_gap
        True where a stretch without answers touches the column: without samples it is a hole,
        never to be drawn across. A column without samples that is no gap lies between two polls.
    amps_low, amps_high, amps_mean, volts_low, volts_high, volts_mean
        None where no sample has a value.
    celsius_low, celsius_high, celsius_mean
        The same of the bath's temperature.
    """

    from_s: float
    to_s: float
    samples: int = 0
    suspect: int = 0
    missing: int = 0
    is_gap: bool = False
    amps_low: float | None = None
    amps_high: float | None = None
    amps_mean: float | None = None
    volts_low: float | None = None
    volts_high: float | None = None
    volts_mean: float | None = None
    celsius_low: float | None = None
    celsius_high: float | None = None
    celsius_mean: float | None = None


Quantity = tuple[float | None, float | None, float | None, int]
"""Lowest, highest, sum and number of values."""

Piece = tuple[int, int, int, int, Quantity, Quantity, Quantity]
"""Number of the column; samples, suspect, missing; then amps, volts, celsius."""


_NOTHING = ((0, 0, 0), (None,) * 9)


def columns_of(
    pieces: Iterable[Piece],
    gaps: list[GapRow],
    from_ns: int,
    width_ns: int,
    count: int,
    last_t_ns: int,
) -> list[Column]:
    """Lay pieces and gaps on `count` columns of `width_ns`.

    Parameters
    ----------
    last_t_ns
        Time of the run's newest row, where a gap that lasts is cut off.
    """
    by_column: dict[int, list[Piece]] = {}
    for piece in pieces:
        by_column.setdefault(piece[0], []).append(piece)
    is_gap = [False] * count
    for gap in gaps:
        ended_ns = last_t_ns if gap.ended_t_ns is None else gap.ended_t_ns - 1
        first = min(max((gap.began_t_ns - from_ns) // width_ns, 0), count - 1)
        last = min((ended_ns - from_ns) // width_ns, count - 1)
        for number in range(first, last + 1):
            is_gap[number] = True
    columns = []
    for number in range(count):
        began_ns = from_ns + number * width_ns
        counts, figures = _joined(by_column.get(number, ()))
        columns.append(
            Column(began_ns / 1e9, (began_ns + width_ns) / 1e9, *counts, is_gap[number], *figures)
        )
    return columns


def _joined(
    pieces: Sequence[Piece],
) -> tuple[tuple[int, int, int], tuple[float | None, ...]]:
    """Counts, then lowest, highest and mean of each quantity."""
    if not pieces:
        return _NOTHING
    if len(pieces) == 1:
        _, samples, suspect, missing, amps, volts, celsius = pieces[0]
        return (samples, suspect, missing), (*_cells(amps), *_cells(volts), *_cells(celsius))
    counts = (
        sum(piece[1] for piece in pieces),
        sum(piece[2] for piece in pieces),
        sum(piece[3] for piece in pieces),
    )
    amps = _sum([piece[4] for piece in pieces])
    volts = _sum([piece[5] for piece in pieces])
    celsius = _sum([piece[6] for piece in pieces])
    return counts, (*_cells(amps), *_cells(volts), *_cells(celsius))


def _cells(quantity: Quantity) -> tuple[float | None, float | None, float | None]:
    low, high, total, values = quantity
    return (low, high, None if total is None else total / values)


def _sum(quantities: Sequence[Quantity]) -> Quantity:
    lows = [low for low, _, _, _ in quantities if low is not None]
    if not lows:
        return (None, None, None, 0)
    return (
        min(lows),
        max(high for _, high, _, _ in quantities if high is not None),
        sum(total for _, _, total, _ in quantities if total is not None),
        sum(values for _, _, _, values in quantities),
    )
