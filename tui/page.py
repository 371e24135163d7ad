"""The layout of a screen: which parts there are at a size, and how high each is.

From 64 columns by 20 rows the whole page; from 40 by 12 the essentials; below that as many plain
rows as there are, the state sentence first.
"""

from tui.font import can_draw, rows_of
from tui.ink import Ink, Line, band_ink, fit, fit_all
from tui.keys import LIVE_KEYS, REVIEW_KEYS
from tui.moment import Moment
from tui.panels.bar import draw_bar
from tui.panels.chart import draw_chart
from tui.panels.events import draw_events
from tui.panels.head import (
    advice_rows,
    big_sentence,
    draw_advice,
    draw_badges,
    draw_beside,
    draw_status,
    draw_word,
    has_room_beside,
)
from tui.panels.help import draw_help, keys_row
from tui.panels.notes import alarm_lines, draw_notes
from tui.panels.numbers import can_draw_numbers, draw_numbers, draw_one_big, numbers_line
from tui.panels.story import draw_story, live_story

ROOMY = (110, 36)
WHOLE = (64, 20)
ESSENTIALS = (40, 12)
WORD_ROWS = rows_of(2)
LEAST_CHART = 6


def draw_live(moment: Moment, width: int, height: int) -> list[Line]:
    """The live screen, exactly `height` lines of `width` columns; never fails at any size."""
    if not _holds((width, height), ESSENTIALS):
        return _few_rows(moment, width, height)
    if not _holds((width, height), WHOLE):
        return _essentials(moment, width, height)
    roomy = _holds((width, height), ROOMY)
    lines = [draw_status(moment, width), *draw_badges(moment, width)]
    if roomy:
        lines += draw_word(moment, width, WORD_ROWS, with_advice=True)
        sentence = big_sentence(moment, width)
        lines += fit_all([], width, 1, band_ink(moment.standing.priority)) + sentence
        if not has_room_beside(moment, width, WORD_ROWS):
            lines += draw_advice(moment, width, advice_rows(moment, width))
    else:
        lines += draw_word(moment, width, WORD_ROWS)
        lines += draw_advice(moment, width, min(max(advice_rows(moment, width), 1), 3))
    if moment.help_is_open and not roomy:
        lines += draw_help(LIVE_KEYS, moment, width, height - len(lines) - 1)
        return fit_all([*lines[: height - 1], keys_row(LIVE_KEYS, moment, width)], width, height)
    if roomy:
        lines += fit_all([], width, 1)
    lines += _numbers(moment, width, roomy)
    lines += draw_bar(moment, width, 3 if roomy else 2)
    room = height - len(lines) - 1
    if moment.help_is_open:
        lines += draw_help(LIVE_KEYS, moment, width, room)
    else:
        low = min(max(room * 2 // 5, 3), 11) if roomy else 3
        if live_story(moment, width, room):
            # After a stop, what happened first says more than a chart of a few rows.
            low = room - 8 if roomy else room
        lines += draw_chart(moment, width, room - low)
        lines += draw_notes(moment, width, low)
    return fit_all([*lines[: height - 1], keys_row(LIVE_KEYS, moment, width)], width, height)


def draw_review(moment: Moment, width: int, height: int) -> list[Line]:
    """A run looked at afterwards: values at the cursor, the chart, the list of what happened."""
    if not _holds((width, height), ESSENTIALS):
        return _few_rows(moment, width, height)
    lines = [draw_status(moment, width)]
    if height >= WHOLE[1]:
        lines += draw_beside(moment, width)
        lines += _numbers(moment, width, _holds((width, height), ROOMY))
    else:
        lines += [numbers_line(moment, width)]
    room = height - len(lines) - 1
    if moment.help_is_open:
        lines += draw_help(REVIEW_KEYS, moment, width, room)
    else:
        if moment.story_is_open:
            story = draw_story(moment, width, max(room - LEAST_CHART, 3))
        else:
            story = draw_events(moment, width, max(room // 3, 3))
        lines += draw_chart(moment, width, room - len(story)) + story
    return fit_all([*lines[: height - 1], keys_row(REVIEW_KEYS, moment, width)], width, height)


def _holds(size: tuple[int, int], least: tuple[int, int]) -> bool:
    return size[0] >= least[0] and size[1] >= least[1]


def _numbers(moment: Moment, width: int, roomy: bool) -> list[Line]:
    scales = (2, 1) if roomy else (1,)
    for scale in scales:
        if can_draw_numbers(moment, width, scale):
            return draw_numbers(moment, width, scale)
    if can_draw(1, moment.glyphs) or roomy:
        return draw_numbers(moment, width, scales[-1])
    return draw_one_big(moment, width)


def _essentials(moment: Moment, width: int, height: int) -> list[Line]:
    # Without half rows the figure takes two rows more, which the word gives.
    ascii_rows = 0 if can_draw(1, moment.glyphs) else 2
    lines = [draw_status(moment, width)]
    lines += draw_word(moment, width, rows_of(1) - ascii_rows)
    lines += draw_advice(moment, width, 2)
    lines += draw_one_big(moment, width)[: rows_of(1) + ascii_rows]
    lines += draw_bar(moment, width, 1)
    room = height - len(lines) - 1
    if room > 1 or not moment.view or not moment.view.alarms:
        lines += draw_badges(moment, width)[:room]
        room = height - len(lines) - 1
    if moment.help_is_open:
        lines = lines[:4] + draw_help(LIVE_KEYS, moment, width, height - 5)
    elif room > 0:
        notes = [((" ", Ink.PLAIN), *line) for line in alarm_lines(moment, width - 1, brief=True)]
        lines += fit_all(notes, width, room)
    return fit_all([*lines[: height - 1], keys_row(LIVE_KEYS, moment, width)], width, height)


def _few_rows(moment: Moment, width: int, height: int) -> list[Line]:
    at = moment.standing
    ink = band_ink(at.priority)
    line = moment.glyphs.text(at.line)
    rows: list[Line] = [fit(((line, ink),), width, ink), numbers_line(moment, width)]
    if moment.said is not None:
        rows.insert(1, moment.said)
    if at.to_do:
        rows.append(((at.to_do, Ink.PLAIN),))
    return fit_all(rows, width, height)
