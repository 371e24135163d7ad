"""All supplies as rows: number, state word, place, amps against the limit, the trip, what to do."""

from collections.abc import Sequence

from drivers.base.inert import inert
from monitor.text.numbers import figure
from tui.font import letter, rows_of
from tui.ink import Ink, Line, band_ink, between, fit, fit_all, text_ink, wrapped
from tui.keys import OVERVIEW_KEYS
from tui.moment import Moment
from tui.panels.help import draw_help, keys_row
from tui.panels.numbers import three_numbers

BIG_ROWS = rows_of(1) + 2
BIG_WIDTH = 76
WIDEST_WORD = 62
"""Columns of the big state word; a longer one is written small."""
WORD_WIDTH = 16
WIDE = 90
LONGEST = 200


def draw_overview(
    moments: Sequence[tuple[int, Moment]],
    chosen: str | None,
    whole: Moment,
    width: int,
    height: int,
) -> list[Line]:
    """The overview, exactly `height` lines of `width` columns.

    Parameters
    ----------
    moments
        Number and moment of each supply, the worst first.
    chosen
        The supply that the arrows stand on; None for the first.
    whole
        The time, what is said, and whether the help is open.
    """
    lines = [_head(moments, whole, width)] if height > 2 else []
    room = height - len(lines) - (1 if height > 1 else 0)
    if whole.help_is_open:
        lines += draw_help(OVERVIEW_KEYS, whole, width, room)
    elif not moments:
        lines += fit_all(_nothing(whole, width), width, room)
    else:
        each = BIG_ROWS if room >= BIG_ROWS * len(moments) and width >= BIG_WIDTH else 1
        each = 2 if each == 1 and room >= 2 * len(moments) else each
        blocks = []
        for index, (number, moment) in enumerate(moments):
            supply = "" if moment.view is None else moment.view.row.facts.supply
            is_chosen = supply == chosen if chosen is not None else index == 0
            blocks.append(_block(number, moment, is_chosen, width, each))
        at = next((i for i, (_, m) in enumerate(moments) if _is(m, chosen)), 0)
        first = max(min(at * each, len(blocks) * each - room), 0)
        rows = [line for block in blocks for line in block]
        lines += fit_all(rows[first : first + room] if at * each >= room else rows, width, room)
    return fit_all([*lines, keys_row(OVERVIEW_KEYS, whole, width)], width, height)


def _is(moment: Moment, chosen: str | None) -> bool:
    return moment.view is not None and moment.view.row.facts.supply == chosen


def _head(moments: Sequence[tuple[int, Moment]], whole: Moment, width: int) -> Line:
    abnormal = [m.standing.priority for _, m in moments if m.standing.priority is not None]
    count = len(moments)
    supplies = f"{count} suppl{'y' if count == 1 else 'ies'}"
    if whole.trouble:
        text, ink = f" NO VIEW: {inert(whole.trouble, LONGEST)}", Ink.CRITICAL_BAND
    elif abnormal:
        worst = moments[0][1]
        text = f" {len(abnormal)} of {supplies}: look at number {moments[0][0]}"
        ink = band_ink(worst.standing.priority)
    else:
        text, ink = f" {supplies}, nothing abnormal", Ink.BAND
    return between(((whole.glyphs.text(text), ink),), ((whole.local_time + " ", ink),), width, ink)


def _nothing(whole: Moment, width: int) -> list[Line]:
    if whole.trouble:
        return wrapped(inert(whole.trouble, LONGEST), width)
    return [
        (),
        *wrapped(
            " Nothing is recorded now. Begin with: bathvigil watch --config bench.toml", width
        ),
    ]


def _block(number: int, moment: Moment, is_chosen: bool, width: int, height: int) -> list[Line]:
    at, glyphs = moment.standing, moment.glyphs
    ink = band_ink(at.priority)
    sentence = glyphs.text(inert(at.sentence, LONGEST))
    line = glyphs.text(inert(at.line, LONGEST))
    pointer = ">" if is_chosen else " "
    tag = f"{pointer}{number} "
    place = glyphs.text(f"{_place(moment):<22.22} ")
    values: Line = ((_amps(moment), text_ink(at.priority)),)
    trip = f"  {_trip(moment)}"
    if height < BIG_ROWS:
        first: Line = (
            (tag, Ink.STRONG),
            (place, Ink.STRONG),
            (f" {at.word} ", ink),
            (" " * max(WORD_WIDTH - len(at.word), 1), Ink.PLAIN),
            *values,
            (trip, Ink.PLAIN),
        )
        if width < 64:
            first = (
                (tag, Ink.STRONG),
                (f"{_place(moment):.12} ", Ink.STRONG),
                (f"{at.word} ", ink),
            )
            first = (*first, *values)
        second = ((f"    {_todo(moment, sentence)}", Ink.PLAIN),)
        return fit_all([first, second][:height], width, height)
    left_width = min(WIDEST_WORD, width // 2) + 6
    drawn = letter(at.word, 1, glyphs)
    if not drawn.rows or drawn.width > left_width - len(tag) - 2:
        drawn_rows: Sequence[str] = ["", at.word, ""]
    else:
        drawn_rows = drawn.rows
    right: list[Line] = [
        ((place, Ink.STRONG), *values),
        ((line, Ink.PLAIN),),
        ((_todo(moment, ""), Ink.STRONG),),
    ]
    if width < WIDE:
        right = [
            ((place, Ink.STRONG),),
            (*values, (trip, Ink.PLAIN)),
            ((_cut(line, width - left_width - 1), Ink.PLAIN),),
            ((_todo(moment, ""), Ink.STRONG),),
        ]
    rows: list[Line] = [fit(((moment.glyphs.rule * width, Ink.FAINT),), width)]
    line_count = max(len(drawn_rows), len(right))
    for index in range(line_count):
        text = drawn_rows[index] if index < len(drawn_rows) else ""
        mark = tag if index == 1 else " " * len(tag)
        left = ((mark, Ink.STRONG), (" " + text, ink if text else Ink.PLAIN))
        beside = right[index] if index < len(right) else ()
        ground = ink if at.priority and index < len(drawn_rows) else Ink.PLAIN
        rows.append((*fit(left, left_width, ground), (" ", Ink.PLAIN), *beside))
    return fit_all(rows, width, height)


def _cut(line: str, width: int) -> str:
    """A sentence without what does not fit: a bracket, else what a comma parts off.

    Examples
    --------
    >>> _cut("RISING: trip in about 2 min (1 to 4)", 33)
    'RISING: trip in about 2 min'
    >>> _cut("CUT OUT: let it cool, 3:40 so far", 30)
    'CUT OUT: let it cool'
    """
    whole = (line, line.rpartition(" (")[0], line.rpartition(", ")[0])
    return next((one for one in whole if one and len(one) <= width), line)


def _place(moment: Moment) -> str:
    if moment.view is None:
        return ""
    facts = moment.view.row.facts
    return inert(", ".join(part for part in (facts.supply, facts.bath) if part))


def _amps(moment: Moment) -> str:
    _, amps, _ = three_numbers(moment)
    limit = "" if moment.view is None else f" of {figure(moment.view.row.facts.limit_amps)}"
    return f"{amps.figure:>5}{limit} A"


def _trip(moment: Moment) -> str:
    _, _, time = three_numbers(moment)
    return f"{time.label} {time.text}"


def _todo(moment: Moment, sentence: str) -> str:
    waiting = moment.waiting
    asked = f"not acknowledged: {inert(waiting.alarm)}" if waiting is not None else ""
    to_do = moment.standing.to_do
    return ". ".join(part for part in (sentence, asked) if part) or to_do
