"""A stretch of a run in, as many columns as a chart is wide out; a spike of one sample survives."""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.store.rows import GapRow


@dataclass(frozen=True, slots=True)
class Column:
    """What lies between two moments of a run, for one column of a chart.

    Parameters
    ----------
    from_s, to_s
        Seconds since the run began; the second belongs to the next column, except in the last.
    samples
        Answered polls that can be reckoned with.
    suspect
        Answered polls that cannot; they are in no other figure here.
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


@dataclass(slots=True)
class Figures:
    """What is known of one quantity in one column, as pieces of it come in."""

    low: float | None = None
    high: float | None = None
    total: float = 0.0
    values: int = 0

    def take(self, low: float | None, high: float | None, total: float | None, values: int) -> None:
        """Take a piece; `total` is the sum of its `values` values."""
        if low is None or high is None or total is None:
            return
        self.low = low if self.low is None else min(self.low, low)
        self.high = high if self.high is None else max(self.high, high)
        self.total += total
        self.values += values

    def cells(self) -> tuple[float | None, float | None, float | None]:
        """Lowest, highest and mean."""
        return (self.low, self.high, self.total / self.values if self.values else None)


Quantity = tuple[float | None, float | None, float | None, int]
"""Lowest, highest, sum and number of values."""

Piece = tuple[int, int, int, int, Quantity, Quantity, Quantity]
"""Number of the column; samples, suspect, missing; amps, volts, celsius."""


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
    counts: dict[int, tuple[int, int, int]] = {}
    figures: dict[int, tuple[Figures, Figures, Figures]] = {}
    for number, samples, suspect, missing, *quantities in pieces:
        before = counts.get(number, (0, 0, 0))
        counts[number] = (before[0] + samples, before[1] + suspect, before[2] + missing)
        known = figures.setdefault(number, (Figures(), Figures(), Figures()))
        for one, quantity in zip(known, quantities, strict=True):
            one.take(*quantity)
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
        amps, volts, celsius = figures.get(number, (Figures(), Figures(), Figures()))
        columns.append(
            Column(
                began_ns / 1e9,
                (began_ns + width_ns) / 1e9,
                *counts.get(number, (0, 0, 0)),
                is_gap[number],
                *amps.cells(),
                *volts.cells(),
                *celsius.cells(),
            )
        )
    return columns
