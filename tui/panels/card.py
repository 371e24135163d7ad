"""The job card as it is filled in: answers, the limits in force, the sound, the cautions."""

from drivers.base.inert import inert
from monitor.model.kept_settings import kept_fittings
from monitor.text.badges import SOUND_NOT_CHECKED
from monitor.text.limits import CAUTIONS, limits_in_words
from monitor.text.start_checks import ASKS, NOT_WATCHED
from monitor.text.strip_plan import card_plan
from tui.form import CHECKS, TYPED, Form, Row
from tui.glyphs import Glyphs
from tui.ink import Ink, Line, clipped, fit, fit_all, wrapped
from tui.view import View

LABELS = {
    Row.AS_LAST_TIME: "as last time",
    Row.BATH: "bath",
    Row.STEP: "step",
    Row.WAY: "tank or swab",
    Row.PART: "part",
    Row.AREA: "area",
    Row.THICKNESS: "chromium, um",
    Row.OPERATOR: "operator",
    Row.REFERENCE: "reference",
    Row.WHERE: "operator's way",
    **{row: check.replace("-", " ") for row, check in CHECKS.items()},
    Row.SOUND: "sound",
    Row.KEEP: "keep",
}
HINTS = {
    Row.AS_LAST_TIME: "ENTER takes these answers",
    Row.BATH: "type its name, or LEFT and RIGHT",
    Row.STEP: "SPACE goes on to the next; its windows stand below",
    Row.WAY: "SPACE goes on to the next",
    Row.PART: "type it; blank is fine",
    Row.AREA: "150 cm2, 20 in2, tube 22 x 600 mm; or blank",
    Row.THICKNESS: "0.5, or a class: Cr mp, SC 3; or blank",
    Row.OPERATOR: "type it; blank is fine",
    Row.REFERENCE: "the customer's own; blank is fine",
    Row.WHERE: "SPACE: I stay here, or I come when it calls",
    Row.SOUND: "ENTER if you heard the sound when recording began",
    Row.KEEP: "ENTER keeps the card",
}
KEYS = "  ENTER next   UP DOWN choose   ESC without a card"
CHECK_KEYS = f"  ENTER confirms   SPACE takes back   {NOT_WATCHED}"
LABEL_WIDTH = 16


def draw_card(
    form: Form, view: View | None, said: Line | None, glyphs: Glyphs, width: int, height: int
) -> list[Line]:
    """The whole screen, exactly `height` lines of `width` columns."""
    head = " JOB CARD"
    if view is not None:
        head += f"   {inert(view.row.facts.supply)}, run {view.row.run}: recording already"
    lines: list[Line] = [fit(((glyphs.text(head), Ink.BAND),), width, Ink.BAND)]
    rows = form.rows
    below = _below(form, view, width) if height >= len(rows) + 4 else []
    room = max(height - 2, 1)
    at = rows.index(form.at)
    first = min(max(at - room + 1, 0), max(len(rows) - room, 0))
    lines += [_row(form, row, view, glyphs, width) for row in rows[first : first + room]]
    for line in below:
        if len(lines) < height - 1:
            lines.append(tuple((glyphs.text(text), ink) for text, ink in line))
    last = said or ((CHECK_KEYS if form.at in CHECKS else KEYS, Ink.PLAIN),)
    if form.complaint and form.at is Row.KEEP:
        last = ((f" {form.complaint} ", Ink.ASKED),)
    return fit_all([*fit_all(lines, width, max(height - 1, 0)), last], width, height)


def _row(form: Form, row: Row, view: View | None, glyphs: Glyphs, width: int) -> Line:
    is_here = row is form.at
    value = _value(form, row, view)
    if is_here and row in TYPED:
        value += "_"
    pointer = ">" if is_here else " "
    label = f"{pointer} {LABELS[row]:<{LABEL_WIDTH}}"
    ink = Ink.STRONG if is_here else Ink.PLAIN
    line: Line = ((label, ink), (clipped(glyphs.text(value), width - len(label)), Ink.STRONG))
    if is_here:
        used = len(label) + len(value)
        hint = f"   {HINTS[row]}" if row in HINTS else ""
        if used + len(hint) <= width:
            line += ((hint, Ink.PLAIN),)
    return fit(line, width)


def _value(form: Form, row: Row, view: View | None) -> str:
    if row is Row.AS_LAST_TIME:
        return inert(form.before.line if form.before is not None else "")
    if row is Row.KEEP:
        return inert(form.card.line) or "a blank card"
    if row in CHECKS:
        check = CHECKS[row]
        return f"[{'x' if check in form.checked else ' '}] {ASKS[check]}"
    if row is Row.SOUND:
        status = None if view is None else view.statuses.get("sound")
        return SOUND_NOT_CHECKED if status is None else inert(status.text, 50)
    return inert(form.text(row))


def _below(form: Form, view: View | None, width: int) -> list[Line]:
    lines: list[Line] = []
    if view is not None and view.plan is not None and form.at is Row.KEEP:
        for sentence in card_plan(view.plan):
            lines += [((f" {text}", Ink.STRONG),) for ((text, _),) in wrapped(sentence, width - 2)]
    if view is not None:
        steps = kept_fittings(view.row.facts.settings).steps
        chosen = [
            f"Step {step.done_with(form.card.way).line}."
            for step in steps
            if step.name == form.text(Row.STEP)
        ]
        for sentence in (" ".join(limits_in_words(view.row.facts)), *chosen):
            lines += [
                ((f" {text}", ink),) for ((text, ink),) in wrapped(inert(sentence, 400), width - 2)
            ]
    for sentence in CAUTIONS:
        lines += [((f" {text}", ink),) for ((text, ink),) in wrapped(sentence, width - 2)]
    return lines
