"""The list of runs as rows, with what was looked for and which runs are picked."""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet

from drivers.base.inert import inert
from monitor.base.moments import clock
from monitor.text.numbers import amp_hours_text
from tui.archive import Entry
from tui.ink import Ink, Line, fit, fit_all, wrapped
from tui.keys import LIST_KEYS
from tui.moment import Moment
from tui.panels.help import draw_help, keys_row

LONGEST = 200


def draw_runs(
    entries: Sequence[Entry],
    at: int,
    picked: AbstractSet[int],
    found: str,
    whole: Moment,
    width: int,
    height: int,
) -> list[Line]:
    """The list, exactly `height` lines of `width` columns.

    Parameters
    ----------
    entries, at
        Those that are shown, and the place of the chosen one.
    found
        What was looked for, in words; "" for nothing.
    """
    count = f"{len(entries)} run{'' if len(entries) == 1 else 's'}"
    head = f" {count}" + (f" found for: {inert(found)}" if found else ", the newest first")
    head += f"   picked: {len(picked)}" if picked else ""
    if whole.trouble:
        head = f" NO VIEW: {inert(whole.trouble, LONGEST)}"
    lines: list[Line] = [fit(((whole.glyphs.text(head), Ink.BAND),), width, Ink.BAND)]
    titles = (
        f"  {'run':>5}  {'began':<16} {'lasted':>8} {'charge':>9} {'alarms':>6}  job and result"
    )
    lines.append(((titles, Ink.PLAIN),))
    room = max(height - len(lines) - 1, 0)
    if whole.help_is_open:
        lines += draw_help(LIST_KEYS, whole, width, room)
    else:
        about = _about(entries[at], whole, width) if entries and room > 6 else []
        room -= len(about)
        first = min(max(at - room // 2, 0), max(len(entries) - room, 0))
        for place, entry in enumerate(entries[first : first + room], first):
            ink = Ink.STRONG if place == at else Ink.PLAIN
            sign = (">" if place == at else " ") + ("*" if entry.row.run in picked else " ")
            lines.append(((whole.glyphs.text(sign + _row(entry)), ink),))
        if not entries:
            lines.append(((" No run is found; r shows all.", Ink.PLAIN),))
        lines = [*fit_all(lines, width, 2 + room), *about]
    return fit_all(
        [*fit_all(lines, width, height - 1), keys_row(LIST_KEYS, whole, width)], width, height
    )


def _row(entry: Entry) -> str:
    summary = entry.summary
    place = ", ".join(one for one in (entry.row.facts.supply, entry.bath) if one)
    what = f"{entry.card.part}: {entry.result} ({place})" if entry.card.part else ""
    return (
        f"{entry.row.run:>5}  {entry.began:<16} {clock(summary.seconds):>8} "
        f"{amp_hours_text(summary.amp_hours):>9} {summary.alarms:>6}  "
        + inert(what or f"{place}: {entry.result}", LONGEST)
    )


def _about(entry: Entry, whole: Moment, width: int) -> list[Line]:
    """The chosen run in full: who asked for what, how it ended and turned out."""
    facts = entry.row.facts
    ended = entry.row.ended_why or "going on, or interrupted"
    told = (
        f"Run {entry.row.run} on {facts.supply}",
        entry.card.line,
        f"{ended}" + (f"; {entry.outcome.line}" if entry.outcome.line else "; no outcome told yet"),
    )
    text = whole.glyphs.text(inert(". ".join(one for one in told if one), LONGEST))
    rows = [((" ", Ink.PLAIN), *row) for row in wrapped(text, width - 2, Ink.STRONG)[:2]]
    return [(), *rows, *[()] * (2 - len(rows))]
