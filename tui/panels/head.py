"""The head of a screen: the state word in very big letters, the sentence, and what to do."""

from collections.abc import Sequence

from drivers.base.inert import inert
from monitor.text.badges import SOUND_NOT_CHECKED
from monitor.text.copying import BESIDE, COPY
from tui.font import largest, rows_of
from tui.ink import Ink, Line, band_ink, between, fit, fit_all, width_of, wrapped
from tui.moment import Moment

WORD_SCALES = (3, 2, 1)
LONGEST = 200
LEAST_BESIDE = 30


def draw_status(moment: Moment, width: int) -> Line:
    """One row: the state sentence in plain text, then whose run it is and the time."""
    at = moment.standing
    ink = band_ink(at.priority)
    left: Line = ((" " + _shown(moment, at.line), ink),)
    for right_text in _whose(moment):
        right: Line = ((right_text + " ", ink),)
        if width_of(left) + width_of(right) + 2 <= width:
            return between(left, right, width, ink)
    return _cut_for(left, _whose(moment)[1:3], width, ink)


def _cut_for(left: Line, whose: Sequence[str], width: int, ink: Ink) -> Line:
    """Too long a sentence stands whole below: here it is cut at a word, and whose it is stays."""
    for right_text in whose:
        room = width - len(right_text) - 3
        if room >= LEAST_BESIDE:
            rows = wrapped("".join(text for text, _ in left).strip(), room - 4, ink)
            cut: Line = ((" ", ink), *rows[0], (" ...", ink))
            return between(cut, ((right_text + " ", ink),), width, ink)
    return fit(left, width, ink)


def draw_badges(moment: Moment, width: int) -> list[Line]:
    """One row on how the recorder's own parts stand; none while all is well."""
    if not moment.badges:
        return []
    line: Line = ()
    for text, failed in moment.badges:
        ink = Ink.HIGH_BAND if failed else Ink.ASKED
        line += ((" ", Ink.PLAIN), (f" {_shown(moment, text)} ", ink))
    if any(text == SOUND_NOT_CHECKED for text, _ in moment.badges):
        line += (("  j: say that you heard it", Ink.PLAIN),)
    return [fit(line, width)]


def draw_beside(moment: Moment, width: int) -> list[Line]:
    """One row where the store of a run looked at again must not be copied as a file."""
    if moment.view is None or COPY not in moment.view.statuses:
        return []
    line: Line = (
        (" ", Ink.PLAIN),
        (f" {BESIDE} ", Ink.ASKED),
        ("  copy it with backup", Ink.PLAIN),
    )
    return [fit(line, width)]


def draw_word(moment: Moment, width: int, height: int, with_advice: bool = False) -> list[Line]:
    """The state word as large as the room allows; with advice, what to do stands beside it."""
    at = moment.standing
    ink = Ink.STRONG if at.asks else band_ink(at.priority)
    drawn = largest(at.word, width - 2, height, WORD_SCALES, moment.glyphs)
    if not drawn.rows:
        spaced = " ".join(at.word) if 2 * len(at.word) < width - 2 else at.word
        middle = (height - 1) // 2
        rows: list[Line] = [
            ((" " + spaced, ink),) if row == middle else () for row in range(height)
        ]
        return fit_all(rows, width, height, ink)
    above = max((height - len(drawn.rows)) // 2, 0)
    rows = [()] * above + [((" " + row, ink),) for row in drawn.rows]
    room = _room_beside(drawn.width, width)
    if with_advice and room:
        advice = [*_advice(moment, room, ink), *_asked(moment, ink)]
        if not big_sentence(moment, width):
            advice = [*wrapped(_shown(moment, at.sentence), room, ink), *advice]
        advice = advice[:height]
        start = max((height - len(advice)) // 2, 0)
        for number, line in enumerate(advice, start):
            rows = rows + [()] * (number + 1 - len(rows))
            rows[number] = (*fit(rows[number], drawn.width + 4, ink), *line)
    return fit_all(rows, width, height, ink)


def has_room_beside(moment: Moment, width: int, height: int) -> bool:
    """Whether the advice stands beside the state word of this height."""
    drawn = largest(moment.standing.word, width - 2, height, WORD_SCALES, moment.glyphs)
    return bool(drawn.rows) and _room_beside(drawn.width, width) > 0


def _room_beside(taken: int, width: int) -> int:
    room = width - taken - 5
    return room if room >= LEAST_BESIDE else 0


def big_sentence(moment: Moment, width: int) -> list[Line]:
    """The sentence in letters three rows high, without its range or reason where that is too long.

    No rows where it cannot be drawn.
    """
    at = moment.standing
    sentence = _shown(moment, at.sentence)
    for text in (sentence, sentence.partition(" (")[0], sentence.partition(":")[0]):
        drawn = largest(text, width - 2, rows_of(1), (1,), moment.glyphs)
        if drawn.rows:
            ink = band_ink(at.priority)
            return fit_all([((" " + row, ink),) for row in drawn.rows], width, rows_of(1), ink)
    return []


def draw_advice(moment: Moment, width: int, height: int) -> list[Line]:
    """What to do now, in as many rows as there are."""
    at = moment.standing
    ink = band_ink(at.priority)
    lines = [((" ", ink), *line) for line in _advice(moment, width - 2, ink)]
    return fit_all(lines, width, height, ink)


def advice_rows(moment: Moment, width: int) -> int:
    """Rows that the advice would take at this width."""
    return len(_advice(moment, width - 2, Ink.PLAIN))


def _advice(moment: Moment, width: int, ink: Ink) -> list[Line]:
    to_do = moment.standing.to_do
    if moment.view is not None and moment.view.ended:
        to_do = f"q closes this screen. Look again: bathvigil review {moment.view.row.run}"
    return wrapped(f"DO: {to_do}", width, ink, hang="    ") if to_do else []


def _asked(moment: Moment, ink: Ink) -> list[Line]:
    waiting = moment.waiting
    if waiting is None:
        return []
    return [((f"    press SPACE: acknowledge {inert(waiting.alarm)}", ink),)]


def _shown(moment: Moment, text: str) -> str:
    return moment.glyphs.text(inert(text, LONGEST))


def _whose(moment: Moment) -> tuple[str, ...]:
    view = moment.view
    if view is None:
        return (moment.local_time, "")
    facts = view.row.facts
    place = ", ".join(part for part in (facts.supply, facts.bath) if part)
    place = _shown(moment, place)[:40]
    return (
        f"{place}   run {view.row.run}   {moment.local_time}",
        f"{place}  {moment.local_time}",
        moment.local_time,
        "",
    )
