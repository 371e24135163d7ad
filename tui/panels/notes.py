"""What stands below the chart: alarms with what to do, what the rise is made of, charge, marks."""

from drivers.base.inert import inert
from monitor.alarms.catalogue import is_unknown
from monitor.base.moments import clock
from monitor.model.alarm import AlarmEvent, Priority
from monitor.text.alarms import action_of, caution, state_words
from monitor.text.limits import RULES, way_in_words
from monitor.text.progress import progress_line
from monitor.text.rise import charge_line, rise_lines
from tui.ink import Ink, Line, fit_all, text_ink, wrapped
from tui.moment import Moment
from tui.panels.story import live_story

SIGNS = {
    Priority.CRITICAL: "!!!",
    Priority.HIGH: "!!",
    Priority.MEDIUM: "!",
    Priority.LOW: "-",
}
WIDE = 100
LONGEST = 200
MOST_MARKS = 6


def draw_notes(moment: Moment, width: int, height: int) -> list[Line]:
    """The lower part of a live screen: two blocks side by side where there is room."""
    if width < WIDE or height < 5:
        reasons = [line for line in reason_lines(moment, width) if line]
        story = live_story(moment, width - 2, height - 1)
        alarms = alarm_lines(moment, width - 1, brief=True)
        lines = [*(alarms[:1] if story else alarms), *story, *reasons]
        return fit_all([((" ", Ink.PLAIN), *line) for line in lines], width, height)
    half = width // 2
    left = live_story(moment, half - 3, height) + reason_lines(moment, half - 3)
    right = alarm_lines(moment, width - half - 2)
    lines = []
    for row in range(height):
        a = left[row] if row < len(left) else ()
        b = right[row] if row < len(right) else ()
        lines.append((*_padded(((" ", Ink.PLAIN), *a), half), *b))
    return fit_all(lines, width, height)


def reason_lines(moment: Moment, width: int) -> list[Line]:
    """What the change of the amps is made of, the charge so far and the marks; the rest last."""
    view = moment.view
    if view is None:
        return []
    headline, *details = (text[0].upper() + text[1:] for text in rise_lines(view.estimate))
    lines = wrapped(headline, width, Ink.STRONG, hang="  ")
    if view.estimate is not None:
        lines += wrapped(f"Charge {charge_line(view.estimate.charge)}", width, hang="  ")
        if view.need is not None:
            amps = None if moment.sample is None else moment.sample.amps
            told = progress_line(view.need, view.estimate.charge, amps)
            lines += wrapped(told, width, hang="  ")
    if view.card is not None and view.card.line:
        lines += wrapped(f"Job: {inert(view.card.line, LONGEST)}", width, hang="  ")[:1]
    if view.card is not None and view.card.reaction_s is not None:
        lines += wrapped(way_in_words(view.row.facts, view.card.reaction_s), width, hang="  ")[:1]
    lines += mark_lines(moment, width)
    for text in details:
        lines += wrapped(text, width, hang="  ")
    return lines


def alarm_lines(moment: Moment, width: int, brief: bool = False) -> list[Line]:
    """Standing alarms, worst first, each with its message, what to do, and the caution."""
    view = moment.view
    if view is None:
        return []
    order = list(Priority)
    standing = sorted(view.alarms, key=lambda e: (order.index(e.priority), e.t_ns))
    lines: list[Line] = []
    for event in standing:
        lines += _alarm(event, width, brief, moment)
    prompt = moment.prompt
    if prompt is not None:
        message = moment.glyphs.text(inert(prompt.message, LONGEST))
        lines += wrapped(f"{clock(prompt.t_s)}  {message}", width, Ink.STRONG, hang="  ")
    if brief:
        return lines
    return lines + (wrapped(RULES, width) if standing else [(("No alarms.", Ink.PLAIN),)])


def mark_lines(moment: Moment, width: int) -> list[Line]:
    """The latest marks, newest first, in one row."""
    view = moment.view
    if view is None or not view.marks:
        return []
    texts = []
    for mark in reversed(view.marks[-MOST_MARKS:]):
        text = f" {moment.glyphs.text(inert(mark.text, 30))}" if mark.text else ""
        texts.append(f"{mark.number} at {clock(mark.t_ns / 1e9)}{text}")
    return wrapped("Marks " + ", ".join(texts), width)[:1]


def _alarm(event: AlarmEvent, width: int, brief: bool, moment: Moment) -> list[Line]:
    ink = text_ink(event.priority)
    standing = () if moment.view is None else tuple(moment.view.alarms)
    state = state_words(event, is_unknown(event, standing), moment.now_s)
    head = (
        f"{SIGNS[event.priority]} {event.priority}: {inert(event.alarm)} since {clock(event.t_s)}"
    )
    lines: list[Line] = [((f"{head}, {state}", ink),)]
    if not brief:
        lines = wrapped(f"{head}, {state}", width, ink, hang="  ")
    message = moment.glyphs.text(inert(event.message, LONGEST))
    lines += wrapped(message, width - 2, Ink.PLAIN, hang="  ")[: 1 if brief else 3]
    if brief:
        return lines
    action = action_of(event)
    if action != moment.standing.to_do:
        lines += wrapped(action, width, Ink.STRONG)
    return lines + wrapped(caution(event.alarm), width)


def _padded(line: Line, width: int) -> Line:
    return fit_all([line], width, 1)[0]
