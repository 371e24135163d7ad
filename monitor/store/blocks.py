"""Blocks of rows with their lowest, highest and mean value, at every scale that charts need.

SQL works them out from the rows and the finer blocks, so that nothing about an open block has to be
remembered: after a crash the next row closes it as if nothing had happened.
"""

import sqlite3

SCALES = (16, 128, 1024, 8192, 65_536)
"""Polls of a block, each scale eight times the one before."""

QUANTITIES = ("volts", "amps", "celsius")


def _from_samples() -> str:
    figures = ", ".join(
        f"min({name}) FILTER (WHERE quality < 2), max({name}) FILTER (WHERE quality < 2),"
        f" avg({name}) FILTER (WHERE quality < 2), count({name}) FILTER (WHERE quality < 2)"
        for name in QUANTITIES
    )
    return (
        "SELECT run, :scale, seq / :scale, min(t_ns), max(t_ns),"
        f" sum(quality < 2), sum(quality = 2), sum(quality = 3), {figures} FROM samples"
        " WHERE run = :run AND seq >= :first AND seq < :last GROUP BY run, seq / :scale"
    )


def _from_blocks() -> str:
    figures = ", ".join(
        f"min({name}_low), max({name}_high),"
        f" sum({name}_mean * {name}_values) / sum({name}_values), sum({name}_values)"
        for name in QUANTITIES
    )
    return (
        "SELECT run, :scale, number / :ratio, min(low_t_ns), max(high_t_ns),"
        f" sum(samples), sum(suspect), sum(missing), {figures} FROM blocks"
        " WHERE run = :run AND scale = :below AND number >= :first / :below"
        " AND number < :last / :below GROUP BY run, number / :ratio"
    )


_INTO = "INSERT OR REPLACE INTO blocks "
_CLOSE_FINEST = _INTO + _from_samples()
_CLOSE = _INTO + _from_blocks()


def close_blocks(connection: sqlite3.Connection, run: int, last_before: int, last: int) -> None:
    """Write the blocks that were closed while a run's newest `seq` went from one to the other.

    Parameters
    ----------
    last_before, last
        The newest stored `seq` before, -1 where there was none, and now.
    """
    _write_blocks(connection, run, max(last_before, 0), last)


def redo_blocks(connection: sqlite3.Connection, run: int, seq: int, last: int) -> None:
    """Write the closed blocks that hold a late row again."""
    for level, scale in enumerate(SCALES):
        first = seq // scale * scale
        if first + scale <= last:
            _write(connection, run, level, first, first + scale)


def _write_blocks(connection: sqlite3.Connection, run: int, begun: int, last: int) -> None:
    for level, scale in enumerate(SCALES):
        first, end = begun // scale * scale, last // scale * scale
        if first == end:
            # A coarser block ends only where a finer one does.
            return
        _write(connection, run, level, first, end)


def _write(connection: sqlite3.Connection, run: int, level: int, first: int, end: int) -> None:
    values = {"run": run, "scale": SCALES[level], "first": first, "last": end}
    if level == 0:
        connection.execute(_CLOSE_FINEST, values)
    else:
        below = SCALES[level - 1]
        values |= {"below": below, "ratio": SCALES[level] // below}
        connection.execute(_CLOSE, values)
