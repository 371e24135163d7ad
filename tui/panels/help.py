"""The keys as the operator sees them: the last row of a screen, and the list behind `?`."""

from drivers.base.inert import inert
from tui.ink import Ink, Line, fit, fit_all, width_of
from tui.keys import LIVE_KEYS, Key
from tui.moment import Moment

LEAST_WIDTH = 64
SIGNS_LINE = "on the time line: 1 2 3 are marks, ! an alarm, {shade} no data"


def keys_row(keys: tuple[Key, ...], moment: Moment, width: int) -> Line:
    """The last row: what was just said, else the keys, as many as there is room for."""
    if moment.said is not None:
        return fit(moment.said, width)
    waiting, prompt = moment.waiting, moment.prompt
    line: Line = ()
    rest = keys[:-2]
    if waiting is not None and keys is LIVE_KEYS:
        line = ((f" SPACE  acknowledge {inert(waiting.alarm)} ", Ink.ASKED),)
        rest = keys[1:-2]
    elif prompt is not None and keys is LIVE_KEYS:
        line = ((f" x  confirm {inert(prompt.prompt)} ", Ink.ASKED),)
    tail: Line = ()
    for key in reversed(keys[-2:]):
        if width_of(line) + width_of(tail) + width_of(_key(key)) <= width:
            tail = _key(key) + tail
    for key in rest:
        piece = _key(key)
        if width_of(line) + width_of(piece) + width_of(tail) > width:
            break
        line += piece
    return fit(line + tail, width)


def draw_help(keys: tuple[Key, ...], moment: Moment, width: int, height: int) -> list[Line]:
    """Every key with what it does: a line each, or where that is too wide, one after the other."""
    if width < LEAST_WIDTH:
        return fit_all(_flowing(keys, width), width, height)
    names = [" or ".join(key.names) for key in keys]
    room = max(len(name) for name in names) + 3
    lines: list[Line] = [
        ((f" {name:<{room}}", Ink.STRONG), (key.means, Ink.PLAIN))
        for name, key in zip(names, keys, strict=True)
    ]
    lines.append(((" " + SIGNS_LINE.format(shade=moment.glyphs.shade), Ink.PLAIN),))
    return fit_all(lines, width, height)


def _flowing(keys: tuple[Key, ...], width: int) -> list[Line]:
    lines: list[Line] = [()]
    for key in keys:
        if lines[-1] and width_of(lines[-1]) + width_of(_key(key)) > width:
            lines.append(())
        lines[-1] += _key(key)
    return lines


def _key(key: Key) -> Line:
    return ((f" {key.names[0]} ", Ink.KEY), (f" {key.does} ", Ink.PLAIN))
