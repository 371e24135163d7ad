"""What happened in a run, as a list around the cursor: alarms, marks, stretches without data."""

from dataclasses import dataclass

from drivers.base.inert import inert
from monitor.base.moments import clock
from monitor.model.alarm import Change
from monitor.text.numbers import for_how_long
from monitor.text.rise import charge_line, rise_lines
from tui.ink import Ink, Line, clipped, fit_all, text_ink, wrapped
from tui.moment import Moment
from tui.view import View

ROOMY_ROWS = 7
LONGEST = 200


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened: when (run seconds), and a line about it."""

    t_s: float
    text: str
    ink: Ink = Ink.PLAIN


def happenings(view: View) -> list[Happening]:
    """Everything that happened in a run, oldest first."""
    found = [
        Happening(
            event.t_s,
            f"{event.priority} alarm {inert(event.alarm)} {event.change}: "
            + inert(event.message, LONGEST),
            text_ink(event.priority) if event.change is Change.RAISED else Ink.PLAIN,
        )
        for event in view.events
    ]
    found += [
        Happening(
            mark.t_ns / 1e9, f"mark {mark.number} {inert(mark.text, LONGEST)}".rstrip(), Ink.STRONG
        )
        for mark in view.marks
    ]
    found += [Happening(p.t_s, inert(p.message, LONGEST), Ink.STRONG) for p in view.prompts]
    for one in view.explanations:
        found.append(
            Happening(
                one.t_ns / 1e9, f"what happened first (x): {inert(one.why, LONGEST)}", Ink.STRONG
            )
        )
    for gap in view.gaps:
        if gap.ended_t_ns is None:
            length = "to the end"
        else:
            lasted_s = (gap.ended_t_ns - gap.began_t_ns) / 1e9
            length = f"for {for_how_long(lasted_s) if lasted_s >= 1.0 else 'under 1 s'}"
        text = f"no data {length}: {inert(gap.reason)}"
        found.append(Happening(gap.began_t_ns / 1e9, text))
    return sorted(found, key=lambda h: h.t_s)


def draw_events(moment: Moment, width: int, height: int) -> list[Line]:
    """The charge, then the happenings around the cursor; the one at or before it is pointed at."""
    view = moment.view
    if view is None or height < 1:
        return fit_all([], width, height)
    lines: list[Line] = []
    if view.estimate is not None:
        lines.append(((f" Charge {charge_line(view.estimate.charge)}", Ink.PLAIN),))
        if height >= ROOMY_ROWS:
            rise = rise_lines(view.estimate)[0]
            lines.append(((f" {rise[0].upper()}{rise[1:]}", Ink.PLAIN),))
    told = (view.outcome and view.outcome.line, view.card and view.card.line)
    about = "; ".join(one for one in told if one)
    if about:
        rows = wrapped(moment.glyphs.text(inert(about, LONGEST)), width - 1)
        lines += [((" ", Ink.PLAIN), *row) for row in rows[: 2 if height >= ROOMY_ROWS else 1]]
    found = happenings(view)
    if not found:
        lines.append(((" No alarm, no mark, no stretch without data.", Ink.PLAIN),))
    room = max(height - len(lines), 1)
    cursor_s = moment.cursor_s if moment.cursor_s is not None else moment.now_s
    at = max((i for i, h in enumerate(found) if h.t_s <= cursor_s), default=-1)
    first = min(max(at - room // 2, 0), max(len(found) - room, 0))
    for index in range(first, min(first + room, len(found))):
        pointer = ">" if index == at else " "
        here = found[index]
        text = moment.glyphs.text(f"{pointer}{clock(here.t_s):>8}  {here.text}")
        lines.append(((clipped(text, width), here.ink),))
    return fit_all(lines, width, height)
