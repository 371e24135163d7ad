"""The alarms of the volts: outside their step's window, or amps too near the limit."""

import math

from monitor.analysis.conductance import OFF_VOLTS, STATED_VOLTS
from monitor.analysis.over_limit import OVER_LIMIT
from monitor.analysis.volts_set import MOVED_SHARE
from monitor.model.alarm import AlarmName, Priority
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings, VoltsWindow
from monitor.text import alarm_messages as say

WINDOW_BAND = 0.1
"""Volts beyond the window before they count as outside. High ones are back at its end, low ones
within half of this."""
FAR = 1.5
"""Times the window's upper end from which volts are far above it."""
RISE_VOLTS = 0.05
RISING_S = 3.0
"""Volts that have come up by so much within so long are on their way: a soft start, or the hand
on the knob. Only what stands under the window counts."""
INSIDE_S = 3.0
"""Volts that were not under it for so long were brought there by a hand, which is not told."""
FORGOTTEN_S = 60.0
"""After so long with the output off the next part hangs there: how the last one was run is past."""
CLOSE = 0.95
"""Share of the limit over which hardly a margin is left."""
STILL_CLOSE = 0.93
SAID_ANEW_S = 9.9
"""So often the numbers of a standing alarm are brought up to date."""
CLOSE_FOR_S = 10.0
AIM_SHARE = 0.85
"""Amps to turn down to, as a share of the limit."""
LEAST_SETTING_VOLTS = 0.1

INSIDE_WINDOW = Finding(AlarmName.OUTSIDE_VOLTAGE_WINDOW, False, say.IN_WINDOW)
NO_WINDOW = Finding(AlarmName.OUTSIDE_VOLTAGE_WINDOW, False, say.NO_WINDOW)
BROUGHT_DOWN = Finding(AlarmName.OUTSIDE_VOLTAGE_WINDOW, False, say.BROUGHT_DOWN)
NOT_HIGH = Finding(AlarmName.VOLTS_HIGH, False, say.NOT_HIGH)
FAR_HIGHER = Finding(AlarmName.VOLTS_HIGH, False, say.FAR_HIGHER, at_once=True)
QUIET = (NOT_HIGH, INSIDE_WINDOW)
MARGIN = Finding(AlarmName.MARGIN_SMALL, False, say.MARGIN)


class VoltsConditions:
    """Judges volts over the window, volts under it, and amps that stand close to the limit.

    Low volts are only told where nobody brought them down from inside the window, the supply does
    not hold the current, and nothing asks for fewer volts: else the alarm would undo what another
    has asked for.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    fittings
        The window is that of the step in force.
    """

    def __init__(self, limit_amps: float, fittings: Fittings) -> None:
        self._limit_amps = limit_amps
        self._is_outside = self._is_high = self._is_far = self._is_low = False
        self._top_volts: float | None = None
        self._rose_s: float | None = None
        self._inside_s: float | None = None
        self._was_inside = False
        self._off_s: float | None = None
        self._is_close = False
        self._close_s: float | None = None
        self._margin, self._margin_s = MARGIN, 0.0
        self.refit(fittings)

    def refit(self, fittings: Fittings) -> None:
        """Go on with the window of another job card's step."""
        self._fittings = fittings
        self._inside_s, self._was_inside = None, False
        self._low_edge, self._high_edge = math.inf, -math.inf
        window = fittings.window
        if window is not None:
            band = max(WINDOW_BAND, MOVED_SHARE * window.lowest_volts)
            self._low_edge, self._high_edge = (
                window.lowest_volts - band,
                window.highest_volts + band,
            )

    def judge_window(
        self, t_s: float, volts: float, flows: bool, is_asked_down: bool
    ) -> tuple[Finding, ...]:
        """Volts over the window, then volts under it.

        `is_asked_down` says whether anything asks for fewer volts, or the supply holds the current.
        """
        if self._low_edge <= volts <= self._high_edge and flows and not self._is_outside:
            self._off_s = None
            self._note_inside(t_s)
            return QUIET
        self._note_rise(t_s, volts)
        window = self._fittings.window
        if window is None:
            return NOT_HIGH, NO_WINDOW
        if not flows:
            self._is_outside = self._is_high = self._is_far = self._is_low = False
            self._inside_s = None
            self._off_s = t_s if self._off_s is None else self._off_s
            if t_s - self._off_s > FORGOTTEN_S:
                self._was_inside = False
            return QUIET
        self._off_s = None
        if volts >= self._low_edge:
            self._note_inside(t_s)
        is_rising = self._rose_s is not None and t_s - self._rose_s < RISING_S
        findings = (
            *self._judge_high(volts, window.highest_volts),
            self._judge_low(volts, window, is_rising or is_asked_down),
        )
        self._is_outside = self._is_high or self._is_low
        return findings

    def _note_inside(self, t_s: float) -> None:
        if self._inside_s is None:
            self._inside_s = t_s
        elif t_s - self._inside_s >= INSIDE_S:
            self._was_inside = True

    def _judge_high(self, volts: float, high: float) -> tuple[Finding, ...]:
        was_high, was_far = self._is_high, self._is_far
        self._is_high = volts > (high if was_high else self._high_edge)
        self._is_far = volts >= FAR * high
        if not self._is_high:
            return (NOT_HIGH,)
        finding = Finding(
            AlarmName.VOLTS_HIGH,
            True,
            say.volts_high(volts, self._fittings.step.name, high),
            priority=Priority.HIGH if self._is_far else Priority.MEDIUM,
            action=say.turn_down_to(high),
        )
        if was_high and self._is_far and not was_far:
            return FAR_HIGHER, finding._replace(at_once=True)
        return (finding,)

    def _judge_low(self, volts: float, window: VoltsWindow, is_explained: bool) -> Finding:
        low = window.lowest_volts
        if volts >= (0.5 * (low + self._low_edge) if self._is_low else self._low_edge):
            self._is_low = False
            return INSIDE_WINDOW
        self._inside_s = None
        self._is_low = not self._was_inside and not is_explained
        if not self._is_low:
            return BROUGHT_DOWN
        words = say.volts_low(volts, self._fittings.step.name, (low, window.highest_volts))
        return Finding(AlarmName.OUTSIDE_VOLTAGE_WINDOW, True, words)

    def _note_rise(self, t_s: float, volts: float) -> None:
        top = self._top_volts
        if volts < OFF_VOLTS or (top is not None and volts > top + RISE_VOLTS):
            self._top_volts, self._rose_s = volts, t_s
        elif top is None:
            self._top_volts = volts

    def judge_margin(
        self, t_s: float, volts: float, amps: float, intercept: float | None, is_held: bool
    ) -> Finding:
        """Amps close to the limit for long, with the volts that bring them clear of it."""
        share = amps / self._limit_amps
        if is_held or not (STILL_CLOSE if self._is_close else CLOSE) <= share < OVER_LIMIT:
            self._is_close, self._close_s, self._margin = False, None, MARGIN
            return MARGIN
        if self._close_s is None:
            self._close_s = t_s
        self._is_close = t_s - self._close_s >= CLOSE_FOR_S
        if not self._is_close:
            return MARGIN
        if self._margin.holds and t_s - self._margin_s < SAID_ANEW_S:
            return self._margin
        lower = volts_for(AIM_SHARE * self._limit_amps, volts, amps, intercept)
        words = say.margin_small(amps, self._limit_amps)
        action = say.turn_down_to(lower)
        self._margin_s = t_s
        self._margin = Finding(AlarmName.MARGIN_SMALL, True, words, action=action)
        return self._margin

    def way_down(self, volts: float, amps: float, intercept: float | None) -> str:
        """What to turn down to before a cut-out; "" where the step's window has no room for it."""
        if amps <= 0.0:
            return ""
        lower = volts_for(AIM_SHARE * self._limit_amps, volts, amps, intercept)
        window = self._fittings.window
        if lower >= volts or (window is not None and lower < window.lowest_volts):
            return ""
        return say.turn_down_or_pause(lower)


def volts_for(aim_amps: float, volts: float, amps: float, intercept: float | None) -> float:
    """Volts at which a bath that draws these amps at these volts draws others, in tenths, down.

    >>> volts_for(8.5, 9.0, 10.0, 1.8)
    7.9
    """
    own_volts = STATED_VOLTS if intercept is None else intercept
    lower = own_volts + (volts - own_volts) * aim_amps / amps
    return int(max(lower, LEAST_SETTING_VOLTS) * 10.0 + 1e-6) / 10.0
