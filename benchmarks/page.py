"""Writes a page: a table of figures, and the machine they were measured on."""

import os
import platform
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True, slots=True)
class Figure:
    """One row.

    Parameters
    ----------
    goal
        "" where nothing was promised.
    against
        What it was compared with in the same run; "" for nothing.
    is_met
        None where there is no goal.
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


def page(title: str, command: str, figures: Iterable[Figure], below: str = "") -> str:
    """The whole page; `command` is what makes it anew."""
    tail = f"\n{below.strip()}\n" if below else ""
    return f"# {title}\n\n`{command}`, on {machine()}.\n\n{table(figures)}\n{tail}"
