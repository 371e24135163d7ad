"""What made a strip stop: what happened first, the order of events, the stops of the run in a row.

Where the cursor of a review stands on an alarm that stopped nothing, that alarm is told instead.
"""

from collections.abc import Sequence

from drivers.base.inert import inert
from monitor.base.moments import clock
from monitor.model.alarm import AlarmEvent, Change
from monitor.model.explanation import Explanation
from monitor.text.alarms import ALARM_TEXTS, action_of
from monitor.text.standing import StateWord
from monitor.text.stops import order_line
from tui.ink import Ink, Line, clipped, fit_all, text_ink, wrapped
from tui.moment import Moment
from tui.view import View

LONGEST = 300
SAME_NS = 5_000_000_000
"""An alarm and the explanation of the same stop come within so long of one another."""
STOPPED = (StateWord.CUT_OUT, StateWord.OFF)
TOLD_FOR_S = 900.0
"""How long a live screen tells of a stop, run seconds."""


def draw_story(moment: Moment, width: int, height: int) -> list[Line]:
    """The story at the cursor, at most this high."""
    lines = story_at_cursor(moment, max(width - 2, 1), height)[:height]
    return fit_all([((" ", Ink.PLAIN), *line) for line in lines], width, len(lines))


def story_at_cursor(moment: Moment, width: int, height: int) -> list[Line]:
    """The latest stop or alarm at or before the cursor; the first of all where there is none."""
    view = moment.view
    if view is None:
        return []
    cursor_ns = round((moment.now_s if moment.cursor_s is None else moment.cursor_s) * 1e9)
    raised = [e for e in view.events if e.change is Change.RAISED]
    times = [one.t_ns for one in view.explanations] + [one.t_ns for one in raised]
    if not times:
        return [(("No strip stopped and no alarm was raised in this run.", Ink.PLAIN),)]
    before = [t_ns for t_ns in times if t_ns <= cursor_ns + 1_000]
    at_ns = max(before, default=min(times))
    stops = [one for one in view.explanations if abs(one.t_ns - at_ns) < SAME_NS]
    if stops:
        return _stop_lines(stops[-1], view, width, height, moment)
    return _alarm_lines([e for e in raised if e.t_ns == at_ns][-1], width, moment)


def live_story(moment: Moment, width: int, height: int) -> list[Line]:
    """The latest stop while it is worth a word; nothing while current flows as it should."""
    view = moment.view
    if view is None or not view.explanations or moment.standing.word not in STOPPED:
        return []
    newest = view.explanations[-1]
    if moment.now_s - newest.t_ns / 1e9 > TOLD_FOR_S:
        return []
    return _stop_lines(newest, view, width, height, moment)


def _stop_lines(
    told: Explanation, view: View, width: int, height: int, moment: Moment
) -> list[Line]:
    """One stop: cause, what was seen, the order of events, and the others of the run.

    Where the room is short, the order is told in running text.
    """
    shown = moment.glyphs.text
    first = f"What happened first: {told.cause}, {told.sentence}"
    lines = wrapped(shown(inert(first, LONGEST)), width, Ink.STRONG, hang="  ")
    if told.series:
        lines += wrapped(shown(inert(told.series, LONGEST)), width, Ink.STRONG, hang="  ")
    others = _in_a_row(view.explanations, told, width, moment)
    order: list[Line] = [(("In order:", Ink.PLAIN),)] if told.order else []
    for one in told.order:
        text = f"{clock(one.t_s):>8}  {inert(one.words, LONGEST)}"
        order += _wrapped_under(shown(text), width, 10)
    if told.order and len(lines) + len(order) + len(others) > height:
        text = f"In order: {inert(order_line(told.order), LONGEST)}"
        order = wrapped(shown(text), width, hang="  ")
    return lines + order + others


def _wrapped_under(text: str, width: int, indent: int) -> list[Line]:
    """Text broken into lines, the further ones under the text behind its time."""
    lead, rest = text[:indent], text[indent:]
    rows = wrapped(rest, max(width - indent, 8)) or [((rest, Ink.PLAIN),)]
    return [(((lead if at == 0 else " " * indent), Ink.PLAIN), *row) for at, row in enumerate(rows)]


def _in_a_row(
    stops: Sequence[Explanation], told: Explanation, width: int, moment: Moment
) -> list[Line]:
    if len(stops) < 2:
        return []
    lines: list[Line] = [((f"All {len(stops)} stops of this run:", Ink.PLAIN),)]
    for number, one in enumerate(stops, 1):
        how = one.order[-1].words if one.order else ""
        sign = ">" if one is told else " "
        text = f"{sign}{number:>2} {clock(one.t_ns / 1e9):>7}  {inert(how, 12):<12} "
        text += inert(f"{one.cause}, {one.sentence}", LONGEST)
        ink = Ink.STRONG if one is told else Ink.PLAIN
        lines.append(((clipped(moment.glyphs.text(text), width), ink),))
    return lines


def _alarm_lines(event: AlarmEvent, width: int, moment: Moment) -> list[Line]:
    shown = moment.glyphs.text
    text = ALARM_TEXTS.get(event.alarm)
    head = f"{clock(event.t_s)}  {event.priority} alarm {inert(event.alarm)}"
    lines: list[Line] = [((shown(head), text_ink(event.priority)),)]
    lines += wrapped(shown(inert(event.message, LONGEST)), width, Ink.STRONG, hang="  ")
    if text is not None:
        lines += wrapped(f"It means: {text.meaning}", width, hang="  ")
        lines += wrapped(f"To do: {action_of(event)}", width, hang="  ")
        lines += wrapped(text.caution, width)
    return lines
