"""The amps against the limit as one bar, with where the forecast sees them a little later."""

from monitor.text.numbers import amps_text, figure, percent
from tui.ink import Ink, Line, fit, text_ink
from tui.moment import Moment

HEADROOM = 1.15
"""The bar's right end, in limits."""

LOOK_AHEAD_S = 60.0


def amps_ahead(moment: Moment, ahead_s: float = LOOK_AHEAD_S) -> tuple[float, float] | None:
    """Range of the amps in `ahead_s`, by the forecast's 10 % and 90 % points; capped at the limit.

    None where there is no forecast.
    """
    forecast, start, view = moment.forecast, moment.forecast_amps, moment.view
    if forecast is None or start is None or view is None or forecast.trip_in_low_s is None:
        return None
    start = min(start, view.row.facts.limit_amps)
    to_go = view.row.facts.limit_amps - start
    slow = 0.0 if forecast.trip_in_high_s is None else min(ahead_s / forecast.trip_in_high_s, 1.0)
    fast = min(ahead_s / max(forecast.trip_in_low_s, 1e-9), 1.0)
    return start + to_go * slow, start + to_go * fast


def draw_bar(moment: Moment, width: int, height: int) -> list[Line]:
    """A bar as high as the room less one row, and a row that says it in words."""
    bar = _bar(moment, width)
    if height <= 1:
        return [bar] * height
    return [bar] * (height - 1) + [fit(_words(moment), width)]


def _bar(moment: Moment, width: int) -> Line:
    view, glyphs = moment.view, moment.glyphs
    room = max(width - 2, 0)
    if view is None or room < 4:
        return fit((), width)
    limit = view.row.facts.limit_amps
    full = limit * HEADROOM

    def cell(amps: float) -> int:
        return min(max(round(amps / full * room), 0), room)

    at_limit = min(cell(limit), room - 1)
    chars = [glyphs.dot] * at_limit + [" "] * (room - at_limit)
    inks = [Ink.PLAIN] * room
    priority = moment.standing.priority
    ink = Ink.PLAIN if priority is None else text_ink(priority)
    sample = moment.sample
    amps = sample.amps if sample is not None and moment.cursor_s is None else None
    if amps is not None:
        reached = cell(amps)
        chars[:reached] = [glyphs.full] * reached
        inks[:reached] = [ink] * reached
        ahead = amps_ahead(moment)
        if ahead is not None:
            first, last = max(cell(ahead[0]), reached), max(cell(ahead[1]), reached)
            chars[reached:last] = [glyphs.rule] * (last - reached)
            chars[first:last] = [glyphs.shade] * (last - first)
            inks[reached:last] = [ink] * (last - reached)
    chars[at_limit] = glyphs.upright
    inks[at_limit] = Ink.STRONG
    return fit(((" ", Ink.PLAIN), *zip(chars, inks, strict=True)), width)


def _words(moment: Moment) -> Line:
    view, sample = moment.view, moment.sample
    if view is None or moment.cursor_s is not None:
        return ()
    limit = view.row.facts.limit_amps
    if sample is None or sample.amps is None:
        return ((f" amps not known; the limit is {amps_text(limit)}", Ink.PLAIN),)
    text = f" {amps_text(sample.amps)} is {percent(sample.amps / limit)} of the limit"
    text += f", {amps_text(limit)}"
    ahead = amps_ahead(moment)
    if ahead is not None:
        low, high = figure(ahead[0]), figure(ahead[1])
        spread = low if low == high else f"{low} to {high}"
        text += f"; in 1 min {spread} A" + (" or over" if ahead[1] >= limit else "")
    return ((text, Ink.PLAIN),)
