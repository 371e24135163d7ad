"""What happened in a run in; the most important of it as a printed table, all of it folded, out."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.base.moments import minutes_text
from monitor.export.html_page import folded, heading, paragraph, table
from monitor.model.alarm import RANK, Change
from monitor.store.stored_run import StoredRun

MOST_ROWS, MOST_TEXT = 14, 240
"""Rows of a table, and characters of a row, that fit two printed pages."""
PROMPT_RANK, MARK_RANK, GAP_RANK, RETURN_RANK = 1, 2, 3, 5
NAMES = ("min:s", "", "what")


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened; the lowest rank is the most important."""

    t_s: float
    rank: int
    kind: str
    text: str


def events_of(run: StoredRun) -> list[Event]:
    """Alarms, prompts, marks and gaps, in order of time."""
    found = [
        Event(
            e.t_s,
            RANK[e.priority] if e.change is Change.RAISED else RETURN_RANK,
            "alarm",
            f"{e.alarm} {e.change.value}{f' by {e.by}' if e.by else ''}: {e.message}",
        )
        for e in run.alarms()
    ]
    found += [Event(p.t_s, PROMPT_RANK, "prompt", p.message) for p in run.prompts()]
    found += [
        Event(m.t_ns / 1e9, MARK_RANK, "mark", f"{m.number} {m.text}".strip()) for m in run.marks()
    ]
    for gap in run.gaps():
        until = "still open"
        if gap.ended_t_ns is not None:
            until = f"{(gap.ended_t_ns - gap.began_t_ns) / 1e9:.1f} s"
        found.append(Event(gap.began_t_ns / 1e9, GAP_RANK, "gap", f"{gap.reason}, {until}"))
    return sorted(found, key=lambda one: one.t_s)


def events_section(events: Sequence[Event]) -> list[str]:
    """The most important events, in order of time; on a screen all of them can be unfolded."""
    parts = [heading("Alarms, prompts, marks and gaps")]
    if not events:
        return [*parts, paragraph("None.")]
    shown = sorted(sorted(events, key=lambda one: one.rank)[:MOST_ROWS], key=lambda one: one.t_s)
    parts.append(table(NAMES, [_row(one, MOST_TEXT) for one in shown]))
    if len(events) > len(shown) or any(len(one.text) > MOST_TEXT for one in shown):
        parts.append(paragraph(f"The most important {len(shown)} of {len(events)}.", "quiet"))
        parts.append(folded(f"All {len(events)}", table(NAMES, [_row(one) for one in events])))
    return parts


def _row(one: Event, most: int | None = None) -> tuple[str, str, str]:
    text = one.text if most is None or len(one.text) <= most else f"{one.text[: most - 3]}..."
    return minutes_text(one.t_s), one.kind, text
