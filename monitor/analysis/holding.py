"""Detects that the supply holds the current, whatever the settings say."""

import math

from drivers.reading import Mode

_UNKNOWN = Mode.UNKNOWN
_CONSTANT_CURRENT = Mode.CONSTANT_CURRENT
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""

NEAR_SHARE = 0.985
"""Under this share of the limit no supply that is said to hold does so: its own meter is not that
far off."""
AT_SHARE = 0.995
STOOD_S = 20.0
"""Smoothed amps that have stood here for so long are held there, whatever the volts do. After 10 s
a bath that rises by 1 % a minute was taken for held up to 17 s before it was."""
STOPS_WITHIN_S, STOPPED_S = 15.0, 2.5
"""Amps that rise from nothing and stop for so long right at the limit are held there: the volts
that were set have never been seen then."""
STOPPED_AT = 0.005
RELEASED_SHARE = 0.975
SAGGED = 0.005
"""Share of the set volts that the supply must have taken back."""
FALLS = 2.5
"""The volts must have sagged by so many times the share that the amps have ever fallen meanwhile:
under a hand the amps fall by more than the volts, and noise hides that for moments only."""
HAND_S, SAGGED_BY_HAND = 20.0, 0.03
"""For so long after amps that followed the volts down a hand may still be turning."""
GRAINS, SURE_GRAINS, GRAINS_S = 0.7, 1.3, 7.0
"""Steps of the voltmeter that the smoothed volts must have sagged by, and by how many where that
has not lasted yet: a single step may be a hand's smallest move."""
DIPS, DIP_S = 2.5, 20.0
"""The volts must have sagged by more than the amps dip of themselves under their tops: within that
nobody sees whether they follow."""
STANDS, STANDS_S = 0.997, 2.0
"""Volts that are back for so long: a bath's noise goes into the volts while the current is held."""
FOLLOWS_DOWN = 0.99
"""Smoothed amps that fall with the volts: the operator's hand."""
KEEPS = 0.995
RELEASED = 0.985
SMOOTH_S = 2.0
STEP = 0.03
LEAST_STEP_VOLTS = 0.12
"""A step of the volts larger than both is taken at once, not smoothed."""
FOLLOW_S = 60.0
FORGET_S = 20.0
NOISE_S = 10.0
LONGEST_S = 10.0
COARSEST = 0.02
"""Share of a value that a meter's step may hide."""
NO_STEP = 1e-9
"""Less between two readings is the rounding of floats."""
LEAST_SHARE = 0.02
"""Under this share of the limit nothing worth holding flows."""


class Holding:
    """Tells a supply that holds its current from amps that have only come near the limit.

    While the volts stand as they were set, the amps are the bath's. Where the supply holds, the
    bath's changes go into the volts: they fall under the set ones while the amps stay. A hand that
    turns the volts down takes the amps down by more than the volts, so the two part at once.

    Parameters
    ----------
    limit_amps
        What the settings say.
    is_said_to_hold
        Whether they say that it holds there, rather than cuts out.

    Examples
    --------
    Settings that say "cuts out at 10 A"; its own knob stands at 8 A:

    >>> holding = Holding(10.0, is_said_to_hold=False)
    >>> any(holding.update(float(t), 9.0, 7.0 + 0.05 * t, Mode.UNKNOWN) for t in range(20))
    False
    >>> [holding.update(20.0 + t, 9.0 - 0.03 * t, 8.0, Mode.UNKNOWN) for t in (1, 4, 8, 12)]
    [False, True, True, True]
    >>> round(holding.amps, 1)
    8.0
    """

    __slots__ = (
        "_amp_step",
        "_at",
        "_at_s",
        "_dip",
        "_fall",
        "_hand_s",
        "_is_said",
        "_last_s",
        "_limit_amps",
        "_near",
        "_noise",
        "_raw_amps",
        "_raw_volts",
        "_sag_s",
        "_smooth_amps",
        "_smooth_volts",
        "_start_s",
        "_stood_s",
        "_stopped_s",
        "_top_amps",
        "_volt_step",
        "amps",
        "is_from_start",
        "is_held",
        "set_volts",
    )

    def __init__(self, limit_amps: float, is_said_to_hold: bool) -> None:
        self._limit_amps = limit_amps
        self._is_said = is_said_to_hold
        self._near = NEAR_SHARE * limit_amps
        self._at = AT_SHARE * limit_amps
        self._last_s: float | None = None
        self._at_s = 0.0
        self._smooth_volts = self._smooth_amps = self._top_amps = 0.0
        self._raw_volts = self._raw_amps = self._noise = 0.0
        self._volt_step = self._amp_step = math.inf
        self._fall = self._hand_s = 0.0
        self._start_s = self._stopped_s = self._stood_s = self._sag_s = self._dip = 0.0
        self.is_from_start = False
        self.set_volts = 0.0
        self.amps = 0.0
        self.is_held = False

    def update(self, t_s: float, volts: float, amps: float, mode: Mode) -> bool:
        """Take one sample with the output on."""
        if mode is not _UNKNOWN:
            self._last_s = None
            self.is_held = mode is _CONSTANT_CURRENT
            self.amps = amps
            return self.is_held
        if amps < LEAST_SHARE * self._limit_amps:
            self.restart()
            return False
        last_s, self._last_s = self._last_s, t_s
        if last_s is None or t_s - last_s > LONGEST_S:
            self._begin(volts, amps)
            return False
        # Written out, without calls: this comes with every sample.
        gone_s = t_s - last_s
        self._learn_steps(volts, amps)
        share = gone_s / SMOOTH_S if gone_s < SMOOTH_S else 1.0
        smooth_volts = self._smooth_volts
        off = volts - smooth_volts
        step_volts = STEP * smooth_volts
        if step_volts < LEAST_STEP_VOLTS:
            step_volts = LEAST_STEP_VOLTS
        if off > step_volts or off < -step_volts:
            self._smooth_volts, self._smooth_amps = volts, amps
        else:
            self._smooth_volts = smooth_volts + share * off
            off_amps = amps - self._smooth_amps
            self._smooth_amps += share * off_amps
            # What noise leaves in the smoothed amps, by its share of the latest reading.
            left = share * (off_amps if off_amps > 0.0 else -off_amps)
            self._noise += (left - self._noise) * (gone_s / NOISE_S if gone_s < NOISE_S else 1.0)
        was_held, self.is_held = self.is_held, self._judge(gone_s)
        if self.is_held:
            far = self._smooth_amps - self.amps
            self.amps += far * (min(gone_s / FORGET_S, 1.0) if was_held else 1.0)
        return self.is_held

    @property
    def is_near(self) -> bool:
        """Whether the amps that it holds are those of the limit in the settings."""
        return self.amps >= self._near

    def restart(self) -> None:
        """The output was off, or nobody looked: what was set is not known."""
        self._last_s = None
        self.is_held = self.is_from_start = False

    def _begin(self, volts: float, amps: float) -> None:
        self._smooth_volts = self._raw_volts = volts
        self._smooth_amps = self._raw_amps = amps
        self._start_s = STOPS_WITHIN_S if amps < NEAR_SHARE * self._limit_amps else 0.0
        self._stopped_s = 0.0
        self._latch()

    def _latch(self) -> None:
        """The volts that stand now are those that were set."""
        # Not those between: the smoothed ones are still on their way down.
        self._smooth_volts = min(self._raw_volts, self._smooth_volts)
        self._smooth_amps = min(self._raw_amps, self._smooth_amps)
        self.set_volts, self._top_amps = self._smooth_volts, self._smooth_amps
        self._fall = 0.0

    def _learn_steps(self, volts: float, amps: float) -> None:
        """The smallest change that the meter shows."""
        volt, amp = volts - self._raw_volts, amps - self._raw_amps
        if NO_STEP < volt < self._volt_step or NO_STEP < -volt < self._volt_step:
            self._volt_step = abs(volt)
        if NO_STEP < amp < self._amp_step or NO_STEP < -amp < self._amp_step:
            self._amp_step = abs(amp)
        self._raw_volts, self._raw_amps = volts, amps

    def _judge(self, gone_s: float) -> bool:
        volts, amps, set_volts = self._smooth_volts, self._smooth_amps, self.set_volts
        self._at_s = self._at_s + gone_s if self._is_said and amps >= self._at else 0.0
        if self._at_s >= STOOD_S:
            return True
        if self._is_said and self.is_held and amps >= RELEASED_SHARE * self._limit_amps:
            return True
        if self._start_s > 0.0:
            self._start_s -= gone_s
            off_amps = abs(self._raw_amps - self._limit_amps)
            is_at = off_amps <= STOPPED_AT * self._limit_amps
            self._stopped_s = self._stopped_s + gone_s if is_at else 0.0
            if self._stopped_s >= STOPPED_S:
                self.is_from_start = True
        if self.is_from_start:
            if abs(self._raw_amps - self._limit_amps) <= (1.0 - RELEASED_SHARE) * self._limit_amps:
                return True
            self.is_from_start = False
            self._latch()
            return False
        if volts >= STANDS * set_volts:
            self._sag_s = 0.0
            self._stood_s += gone_s
            is_still_there = RELEASED * self.amps <= amps <= self.amps / RELEASED
            if self.is_held and is_still_there and self._stood_s < STANDS_S:
                return True
            self._follow(gone_s)
            return False
        self._stood_s = 0.0
        grain = min(0.6 * self._amp_step / max(self._top_amps, 1e-9), COARSEST)
        noise = min(self._noise / max(self._top_amps, 1e-9), COARSEST)
        if self.is_held:
            if amps >= (1.0 - max(1.0 - RELEASED, 2.0 * grain, 4.0 * noise)) * self.amps:
                return True
            self._latch()
            return False
        if amps < (1.0 - max(1.0 - FOLLOWS_DOWN, 2.0 * grain, 2.0 * noise)) * self._top_amps:
            self._latch()
            self._hand_s = HAND_S
            return False
        self._hand_s -= gone_s
        if amps > self._top_amps:
            self._top_amps = amps
        elif self._top_amps - amps > self._fall:
            self._fall = self._top_amps - amps
        sag = set_volts - volts
        volt_grain = min(self._volt_step, COARSEST * set_volts)
        self._sag_s = self._sag_s + gone_s if sag >= GRAINS * volt_grain else 0.0
        if sag < SURE_GRAINS * volt_grain and self._sag_s < GRAINS_S:
            return False
        least = SAGGED if self._hand_s <= 0.0 else SAGGED_BY_HAND
        least = max(least, max(FALLS * self._fall, DIPS * self._dip) / self._top_amps)
        # A hand takes more off the amps than off the volts, E0 being between.
        loss = max(1.0 - KEEPS, min(max(grain, 1.5 * noise), 0.5 * sag / set_volts))
        return sag >= least * set_volts and amps >= (1.0 - loss) * self._top_amps

    def _follow(self, gone_s: float) -> None:
        # A gap ends at `LONGEST_S`: no share comes to 1.
        volts, amps = self._smooth_volts, self._smooth_amps
        self._hand_s -= gone_s
        if volts > self.set_volts:
            self.set_volts = volts
        else:
            self.set_volts += (volts - self.set_volts) * gone_s / FOLLOW_S
        if amps > self._top_amps:
            self._top_amps = amps
        else:
            self._top_amps += (amps - self._top_amps) * gone_s / FORGET_S
        self._dip += (self._top_amps - amps - self._dip) * gone_s / DIP_S
        self._fall = 0.0
