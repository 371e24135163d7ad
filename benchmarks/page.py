"""Writes a benchmark's page, and its figures as a JSON record beside it."""

import json
import os
import platform
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Figure:
    """One row.

    Parameters
    ----------
    goal
        "" where nothing was promised.
    is_met
        None where there is no goal.
    against
        What it was compared with in the same run; "" for nothing.
    """

    what: str
    measured: str
    goal: str = ""
    is_met: bool | None = None
    against: str = ""


def machine() -> str:
    """What a figure depends on, in one line.

    Examples
    --------
    >>> "processors" in machine()
    True
    """
    load = os.getloadavg()[0]
    return (
        f"{platform.machine()}, {os.cpu_count()} processors, {platform.system()} "
        f"{platform.release()}, Python {platform.python_version()}, load {load:.1f}, "
        f"{datetime.now(UTC):%Y-%m-%d}"
    )


def table(figures: Iterable[Figure]) -> str:
    """As Markdown.

    Examples
    --------
    >>> print(table([Figure("start", "0.1 s", "under 1 s", True)]))
    | figure | measured | goal | | compared with |
    | --- | --- | --- | --- | --- |
    | start | 0.1 s | under 1 s | met |  |
    """
    lines = ["| figure | measured | goal | | compared with |", "| --- | --- | --- | --- | --- |"]
    for figure in figures:
        met = {True: "met", False: "NOT MET", None: ""}[figure.is_met]
        lines.append(
            f"| {figure.what} | {figure.measured} | {figure.goal} | {met} | {figure.against} |"
        )
    return "\n".join(lines)


def write(page: Path, title: str, command: str, figures: Sequence[Figure], below: str = "") -> int:
    """Write a page of one table, and its record; 1 where a goal is missed, else 0.

    Parameters
    ----------
    command
        What makes it anew.
    below
        Stands below the table.
    """
    tail = f"\n{below.strip()}\n" if below else ""
    text = f"# {title}\n\n`{command}`, on {machine()}.\n\n{table(figures)}\n{tail}"
    return write_text(page, text, command, figures)


def write_text(
    page: Path, text: str, command: str, figures: Sequence[Figure], **more: object
) -> int:
    """Write a page of another form, and its record, to which `more` is added; as `write`."""
    record = {
        "command": command,
        "day": f"{datetime.now(UTC):%Y-%m-%d}",
        "figures": [asdict(figure) for figure in figures],
        **more,
    }
    page.write_text(text, encoding="utf-8")
    page.with_suffix(".json").write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
    print(text)
    return int(any(figure.is_met is False for figure in figures))


def record_of(page: Path) -> dict[str, Any]:
    """The record that was kept with a page; empty where the benchmark never ran."""
    record = page.with_suffix(".json")
    return json.loads(record.read_text(encoding="utf-8")) if record.exists() else {}


def figures_of(page: Path) -> list[Figure]:
    """The figures that were kept with a page."""
    return [Figure(**figure) for figure in record_of(page).get("figures", ())]
