"""Rows of figures as a Markdown table."""

import math
from collections.abc import Mapping

from benchmarks.score.row import Row
from benchmarks.score.run_score import AHEAD_S

HEAD = (
    "runs",
    "slow trips",
    "useful",
    "quiet hours",
    "false raises",
    "lead s",
    *(f"error {ahead_s:.0f} s" for ahead_s in AHEAD_S),
    "range holds",
)


def table(first: str, rows: Mapping[str, Row]) -> str:
    """A Markdown table with one line a row; `first` heads the column of names.

    Errors are medians of |told - true| / true; "-" where the family has no such figure, "none"
    where mostly no time was told.
    """
    lines = [
        f"| {first} | {' | '.join(HEAD)} |",
        f"| --- |{' ---: |' * len(HEAD)}",
    ]
    lines += [f"| {name} | {' | '.join(cells(row))} |" for name, row in rows.items()]
    return "\n".join(lines) + "\n"


def cells(row: Row) -> list[str]:
    """The cells of one row, as `HEAD` names them."""
    useful = "-" if row.useful_share is None else f"{row.useful} ({row.useful_share:.0%})"
    return [
        str(row.runs),
        str(row.slow_trips),
        useful,
        f"{row.quiet_hours:.1f}",
        str(row.false_raises) if row.quiet_hours else "-",
        "-" if row.lead_s is None else f"{row.lead_s:.0f}",
        *(_error(row.errors.get(ahead_s)) for ahead_s in AHEAD_S),
        "-" if row.coverage is None else f"{row.coverage:.0%}",
    ]


def _error(error: float | None) -> str:
    if error is None:
        return "-"
    return "none" if math.isinf(error) else f"{error:.2f}"


def distances(ours: Mapping[str, Row], best: Mapping[str, Row], whose: str = "oracle") -> str:
    """A Markdown table of how far every family with slow trips is from the best there can be."""
    lines = [
        f"| family | useful, ours / {whose} |"
        f"{''.join(f' error {ahead_s:.0f} s, ratio |' for ahead_s in AHEAD_S)}",
        f"| --- |{' ---: |' * (1 + len(AHEAD_S))}",
    ]
    for name, row in ours.items():
        rival = best[name]
        if not row.slow_trips:
            continue
        ratios = [_ratio(row.errors.get(a), rival.errors.get(a)) for a in AHEAD_S]
        useful = f"{row.useful_share:.0%} / {rival.useful_share:.0%}"
        lines.append(f"| {name} | {useful} | {' | '.join(ratios)} |")
    return "\n".join(lines) + "\n"


def _ratio(ours: float | None, best: float | None) -> str:
    if ours is None or best is None:
        return "-"
    if math.isinf(ours) or math.isinf(best) or best == 0.0:
        return f"{_error(ours)} / {_error(best)}"
    return f"{ours:.2f} / {best:.2f} = {ours / best:.1f}"


def untold(rows: Mapping[str, Row]) -> str:
    """A Markdown table of the slow trips of which no time was told, so long before them."""
    lines = [
        f"| family | slow trips | {' | '.join(f'{ahead_s:.0f} s before' for ahead_s in AHEAD_S)} |",
        f"| --- | ---: |{' ---: |' * len(AHEAD_S)}",
    ]
    for name, row in rows.items():
        if row.slow_trips:
            counts = (str(row.untold.get(ahead_s, "-")) for ahead_s in AHEAD_S)
            lines.append(f"| {name} | {row.slow_trips} | {' | '.join(counts)} |")
    return "\n".join(lines) + "\n"
