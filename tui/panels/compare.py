"""Several runs under one another on the same axes, and the table of what they differ in."""

from collections.abc import Sequence

from drivers.base.inert import inert
from monitor.base.moments import clock
from monitor.text.numbers import figure
from tui.ink import Ink, Line, fit, fit_all, wrapped
from tui.keys import COMPARE_KEYS
from tui.moment import Moment
from tui.panels.help import draw_help, keys_row
from tui.raster import Layer, Raster
from tui.side_by_side import Side, differences, unlike

AXIS_WIDTH = 7
NAME_WIDTH = 12
FULL_TABLE = 36
"""From so many rows on the table names every figure."""
INKS = {
    Layer.BAND: Ink.PLAIN,
    Layer.MEDIAN: Ink.PLAIN,
    Layer.LIMIT: Ink.PLAIN,
    Layer.TRACE: Ink.STRONG,
    Layer.CURSOR: Ink.PLAIN,
}


def draw_compare(
    sides: Sequence[Side], mark: int | None, whole: Moment, width: int, height: int
) -> list[Line]:
    """The comparison, exactly `height` lines of `width` columns.

    Parameters
    ----------
    mark
        Number of the mark on which the runs are aligned; None for their start.
    """
    where = "their start" if mark is None else f"mark {mark}"
    head = f" {len(sides)} runs side by side, aligned on {where}"
    if whole.trouble:
        head = f" NO VIEW: {inert(whole.trouble, 200)}"
    lines: list[Line] = [fit(((head, Ink.BAND),), width, Ink.BAND)]
    if whole.help_is_open:
        lines += draw_help(COMPARE_KEYS, whole, width, max(height - 2, 0))
    elif sides:
        warnings: list[Line] = [((f" ! {text}", Ink.HIGH),) for text in unlike(sides)]
        table = _table(sides, width, height >= FULL_TABLE)
        room = height - len(lines) - len(warnings) - len(table) - 2
        each = max(room // len(sides), 2)
        lines += warnings
        for side in sides:
            lines += _chart(side, sides, mark, whole, width, each)
        lines += [_times(sides, mark, width), *table]
    return fit_all(
        [*fit_all(lines, width, max(height - 1, 0)), keys_row(COMPARE_KEYS, whole, width)],
        width,
        height,
    )


def span_s(sides: Sequence[Side], mark: int | None) -> tuple[float, float]:
    """From the earliest to the latest moment of all, seconds from where they are aligned."""
    offsets = [(side, side.aligned_s(mark)) for side in sides]
    ends = [(-at, side.summary.seconds - at) for side, at in offsets if at is not None]
    if not ends:
        return 0.0, 1.0
    first, last = min(begin for begin, _ in ends), max(end for _, end in ends)
    return first, max(last, first + 1.0)


def _chart(
    side: Side, sides: Sequence[Side], mark: int | None, whole: Moment, width: int, height: int
) -> list[Line]:
    at_s = side.aligned_s(mark)
    title = f" run {side.row.run}  {side.row.facts.supply}"
    title += f"  {side.card.line}" if side.card.line else ""
    if at_s is None:
        title += f"  has no mark {mark}"
    lines: list[Line] = [((whole.glyphs.text(inert(title, 200)), Ink.STRONG),)]
    raster = Raster(width - AXIS_WIDTH, height - 1, whole.glyphs, INKS)
    if at_s is None or not raster.points_down or not raster.points_across:
        return fit_all(lines, width, height)
    top = max(max(one.most_amps or 0.0, one.row.facts.limit_amps) for one in sides) * 1.05
    from_s, to_s = span_s(sides, mark)
    last = raster.points_down - 1

    def y(amps: float) -> int:
        return round((1.0 - max(amps, 0.0) / top) * last)

    for x in range(raster.points_across):
        raster.dot(x, y(side.row.facts.limit_amps), Layer.LIMIT)
    scale = raster.points_across / (to_s - from_s)
    for column in side.columns:
        if column.amps_low is not None and column.amps_high is not None:
            begin = int((column.from_s - at_s - from_s) * scale)
            end = max(int((column.to_s - at_s - from_s) * scale), begin + 1)
            for x in range(begin, end):
                raster.upright(x, y(column.amps_high), y(column.amps_low), Layer.TRACE)
    labels = {0: figure(top), height - 2: "0"}
    for row, line in enumerate(raster.lines()):
        lines.append(((f"{labels.get(row, ''):>{AXIS_WIDTH - 1}} ", Ink.PLAIN), *line))
    return fit_all(lines, width, height)


def _times(sides: Sequence[Side], mark: int | None, width: int) -> Line:
    from_s, to_s = span_s(sides, mark)
    left = f"-{clock(-from_s)}" if from_s < 0 else clock(from_s)
    right = clock(to_s)
    gap = " " * max(width - AXIS_WIDTH - len(left) - len(right), 1)
    return ((" " * AXIS_WIDTH + left + gap + right, Ink.PLAIN),)


def _table(sides: Sequence[Side], width: int, is_full: bool) -> list[Line]:
    """Every figure of every side; where room is short, those that agree in one row."""
    cell = max((width - NAME_WIDTH - 2) // len(sides), 8)
    names = "".join(f"{f'run {side.row.run}':>{cell}}" for side in sides)
    lines: list[Line] = [((f"  {'':<{NAME_WIDTH}}{names}", Ink.STRONG),)]
    same = []
    for name, texts, differ in differences(sides):
        if not differ and not is_full:
            same.append(f"{name} {texts[0]}")
            continue
        sign = "*" if differ else " "
        cells = "".join(f"{text:>{cell}}" for text in texts)
        ink = Ink.STRONG if differ else Ink.PLAIN
        lines.append(((f"{sign} {name:<{NAME_WIDTH}}{cells}", ink),))
    if same:
        lines += [
            ((f"  {text}", ink),)
            for ((text, ink),) in wrapped("alike: " + ", ".join(same), width - 3)
        ]
    return lines
