"""A stretch of a run in, as many columns as a chart is wide out; a spike of one sample survives."""

from dataclasses import dataclass

from monitor.store.decoding import Row
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


COLUMNS = """
    SELECT min((t_ns - :from_ns) / :width_ns, :count - 1),
           sum(quality < 2), sum(quality = 2), sum(quality = 3),
           min(amps) FILTER (WHERE quality < 2), max(amps) FILTER (WHERE quality < 2),
           avg(amps) FILTER (WHERE quality < 2),
           min(volts) FILTER (WHERE quality < 2), max(volts) FILTER (WHERE quality < 2),
           avg(volts) FILTER (WHERE quality < 2)
    FROM samples
    WHERE run = :run AND seq BETWEEN :from_seq AND :to_seq AND t_ns BETWEEN :from_ns AND :to_ns
    GROUP BY 1
"""
"""Number of the column, counts by quality (see `Quality`), and the figures."""


def columns_of(
    rows: list[Row], gaps: list[GapRow], from_ns: int, width_ns: int, count: int, last_t_ns: int
) -> list[Column]:
    """Lay what COLUMNS found, and the gaps, on `count` columns of `width_ns`.

    Parameters
    ----------
    last_t_ns
        Time of the run's newest row, where a gap that lasts is cut off.
    """
    found = {row[0]: row for row in rows}
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
        figures = found.get(number, (number, 0, 0, 0))
        cells: Row = (
            began_ns / 1e9,
            (began_ns + width_ns) / 1e9,
            *figures[1:4],
            is_gap[number],
            *figures[4:],
        )
        columns.append(Column(*cells))
    return columns
