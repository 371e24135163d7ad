"""Reads the pages of the benchmarks and makes the rows of RESULTS.md.

A benchmark's page is Markdown with tables; what a column is, its heading says. Pages whose tables
compare many methods have a reader of their own here.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from benchmarks.page import Figure

GOAL, AGAINST = "goal", "compared with"
MET = {"met": True, "yes": True, "NOT MET": False, "missed": False, "NO": False}
FORECAST_GOALS = {
    # column: goal, and whether a cell keeps it
    "useful": ("97 %", lambda cell: _percent(cell) >= 97),
    "false raises": ("1 in 50 h", None),
    "range holds": ("72 to 88 %", lambda cell: 72 <= _percent(cell) <= 88),
}
SOUND_WITHIN_MS = 150.0
"""One poll of the benchmark and 50 ms."""
BATH_GOALS = {
    "wrong values": "0",
    "due polls without a row or a reason": "0",
}


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a page, its cells as they stand."""

    heading: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def cell(self, row: tuple[str, ...], column: str) -> str:
        """The cell of a row under a heading; "" where there is none."""
        return row[self.columns.index(column)] if column in self.columns else ""


def tables_of(page: str) -> list[Table]:
    """Every table of a Markdown page.

    Examples
    --------
    >>> (one,) = tables_of("## Heat\\n\\n| what | found |\\n| --- | ---: |\\n| a | 3 |\\n")
    >>> one.heading, one.columns, one.rows
    ('Heat', ('what', 'found'), (('a', '3'),))
    """
    found, heading, lines = [], "", []
    for line in [*page.splitlines(), ""]:
        if line.startswith("|"):
            lines.append(tuple(cell.strip() for cell in line.strip().strip("|").split("|")))
            continue
        if len(lines) > 2:
            found.append(Table(heading, lines[0], tuple(lines[2:])))
        lines = []
        if line.startswith("#"):
            heading = line.lstrip("# ").strip()
    return found


def plain(page: str) -> Iterator[Figure]:
    """A table of figure, measured, goal and whether it is met; what else stands there is told."""
    for table in tables_of(page):
        first = table.columns[0]
        told = [
            name
            for name in table.columns[1:]
            if name not in (GOAL, AGAINST, "", "kept") and not name.startswith("met")
        ]
        for row in table.rows:
            cells = [(name, table.cell(row, name)) for name in told]
            measured = (
                cells[0][1]
                if len(cells) == 1
                else "; ".join(f"{name} {cell}" for name, cell in cells)
            )
            goal, is_met = table.cell(row, GOAL), None
            for mark in (table.cell(row, ""), table.cell(row, "kept"), goal.rpartition(": ")[2]):
                is_met = MET.get(mark, is_met)
            goal = re.sub(r": (met|missed|NOT MET)$", "", goal)
            what = row[0] if first in ("figure", "what") else f"{first}: {row[0]}"
            yield Figure(what, measured, goal, is_met, table.cell(row, AGAINST))


def hazards(page: str) -> Iterator[Figure]:
    """The totals of the rows; each row stands in the page itself."""
    return plain(page.partition("\n## ")[0])


def forecast(page: str) -> Iterator[Figure]:
    """Ours of the table of all methods, beside the best of the others and the oracle."""
    table = next(each for each in tables_of(page) if "method" in each.columns)
    rows = {row[0]: row for row in table.rows}
    ours, oracle = rows["bathvigil"], rows["oracle"]
    others = {name: row for name, row in rows.items() if name not in ("bathvigil", "oracle")}
    hours = table.cell(ours, "quiet hours")
    for column in table.columns[2:]:
        if column in ("slow trips", "quiet hours"):
            continue
        mine = table.cell(ours, column)
        goal, keeps = FORECAST_GOALS.get(column, ("", None))
        is_met = None if keeps is None else keeps(mine)
        if column == "false raises":
            is_met = float(mine) <= float(hours) / 50
            mine = f"{mine} in {hours} h"
        if column.startswith(("error 120", "error 60")):
            bound = float(table.cell(oracle, column)) * 1.5
            goal, is_met = "1.5 times the oracle's", float(mine) <= bound
        beside = [f"{name} {table.cell(row, column)}" for name, row in others.items()]
        against = f"oracle {table.cell(oracle, column)}; {', '.join(beside)}"
        yield Figure(f"{column}, {table.cell(ours, 'runs')} runs", mine, goal, is_met, against)
    for line in page.splitlines():
        if "said as such within 2 samples" in line:
            yield Figure("shorts", line.rstrip("."), "all that a sample saw")


def alarms(page: str) -> Iterator[Figure]:
    """From the reply's last byte to the sound, whatever stands in the way."""
    (table,) = tables_of(page)[:1]
    least = table.rows[0]
    for row in table.rows:
        median, high = (table.cell(row, name) for name in ("median, ms", "99 %, ms"))
        beside = (table.cell(least, name) for name in ("median, ms", "99 %, ms"))
        yield Figure(
            f"reply's last byte to the sound; in the way: {row[0]}",
            f"median {median} ms, 99 of 100 within {high} ms",
            f"under {SOUND_WITHIN_MS:g} ms",
            float(high) < SOUND_WITHIN_MS,
            "" if row is least else f"nothing in the way: {', '.join(beside)} ms",
        )


def bath_test(page: str) -> Iterator[Figure]:
    """Eight hours under faults: what must be nothing, and how much there was of the rest."""
    (table,) = tables_of(page)[:1]
    for what, measured in table.rows:
        goal = BATH_GOALS.get(what, "")
        is_met = None if not goal else measured == goal
        if "of which silent" in what:
            goal, is_met = "none silent", measured.rpartition(", ")[2] == "0"
        if "no question" in what:
            goal, is_met = "no message that is no question", measured.rpartition("; ")[2] == "0"
        yield Figure(f"bath test: {what}", measured, goal, is_met)


def memory(page: str) -> Iterator[Figure]:
    """How the recorder's memory grows."""
    for line in page.splitlines():
        if match := re.match(r"Growth after warm-up: ([\d.-]+) MB per 100,000 samples", line):
            grown = float(match[1])
            yield Figure(
                "memory's growth, 100,000 samples", f"{grown:g} MB", "under 1 MB", grown < 1.0
            )


def job(page: str) -> Iterator[Figure]:
    """The ledger's advice; a goal is the most that an error may be."""
    for figure in plain(page):
        if figure.goal.endswith("%") and figure.is_met is None:
            is_met = _percent(figure.measured) <= _percent(figure.goal)
            yield Figure(figure.what, figure.measured, figure.goal, is_met, figure.against)
        else:
            yield figure


def finish(page: str) -> Iterator[Figure]:
    """Ours of each family of strips, beside what the other methods told of it."""
    (every,) = tables_of(page)
    families = dict.fromkeys(row[0] for row in every.rows)
    for family in families:
        told = {}
        for row in every.rows:
            if row[0] == family:
                names = ("in time", "early", "told where nothing ends")
                cells = [(name, every.cell(row, name)) for name in names]
                told[every.cell(row, "method")] = ", ".join(
                    f"{cell} {name}" for name, cell in cells if cell != "-"
                )
        (ours, measured), *others = told.items()
        against = "; ".join(f"{method} {cell}" for method, cell in others)
        yield Figure(f"{ours}, {family}", measured, against=against)


def _percent(cell: str) -> float:
    """The last share in a cell.

    Examples
    --------
    >>> _percent("123 (98%)"), _percent("6.3 %")
    (98.0, 6.3)
    """
    found = re.findall(r"([\d.]+) ?%", cell)
    return float(found[-1]) if found else float("nan")


Reader = Callable[[str], Iterator[Figure]]
