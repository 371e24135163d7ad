"""Is a dead output a cut-out? By volts, amps and the supply's own report, and how sure.

1. A supply that says it has cut out is believed; amps that flow end every cut-out.
2. An output has gone dead where nothing flows and the volts are under half of what they were, or
   have fallen a little and go on falling: a cell, and more so a stack of them, keeps volts of its
   own after the output died. Volts that stand without current are an open circuit. The first dead
   sample decides; later ones are too far from the peak.
3. A supply that limits its amps does not cut out of itself.
4. Amps within 1 % of the limit a moment before: a cut-out. So are amps that climbed with the volts
   after switching on and would have passed it by the dead sample.
5. Amps over 90 % of it, or over 80 % while a trip is expected: a cut-out, or the operator's switch;
   a volt and an amp cannot tell them apart. It is told as both.
6. Not even that where the strip was at its end and switching off was what came next.
7. Volts that were turned down first are the operator: the amps count that they were turned down to.
   Where a single reading tells of that, it may have been a dying output all the same.
8. Nobody saw the moment where polls were silent for long: then it is possible at most.
9. A supply that tells its mode may need a poll or two to tell a cut-out: possible ones wait for it.
"""

from enum import Enum

from drivers.reading import Mode
from monitor.analysis.conductance import HIGHEST_VOLTS, STATED_VOLTS

DEAD_AMPS = 0.01
"""Share of the limit under which no current is said to flow."""
FLOWS = 0.02
"""Share of the limit from which current counts as flowing through the work."""
AT_LIMIT = 0.98
"""Share of the limit from which the volts may be the supply's own, not the operator's."""
PASSED = 0.99
"""A peak of the last seconds reached 99.5 % before each of 70 simulated cut-outs at 1 to 10 Hz."""
NEAR_LIMIT = 0.9
EXPECTED_NEAR = 0.8
FEW_READINGS = 1
"""On the way from near the limit to nothing: a hand that turns down is seen for more."""
PEAK_S = 3.0
"""Seconds for which a peak counts as the reason of a cut-out."""
DEAD_VOLTS = 0.5
FELL, FELL_FAR, FALLS = 0.97, 0.9, 0.002
"""Shares of the working volts: under the first they have fallen, under the second they have for
sure; by the third they fall from one reading to the next."""
MODE_WITHIN_S = 2.0
TURNED = 0.95
"""Share of the peak's volts under which they count as turned down."""
STAND = 0.02
FAR_OVER = 1.1
"""Nobody has the time to turn down by hand from so far over the limit."""
DIES = 0.7
"""Share of the amps that the bath would draw, under which the output is dying."""
LEAST_ABOVE = 0.15
"""Volts a cell, at least, that stand over the intercept where a cell works (common practice)."""
STOOD_S = 1.5
"""Volts that a hand has set stand for so long; those of a dying output do not."""
EVEN = 0.46
"""A hand turns evenly: the volts stand half-way in the mean. A capacitor gives most at first."""
CLEAR = 0.03
"""Of the volts or the amps: so much is no noise."""


class CutOut(Enum):
    """What is known of a cut-out that stands."""

    NONE = "none"
    POSSIBLE = "cut out or switched off"
    SEEN = "seen"
    SAID = "said by the supply"

    @property
    def is_sure(self) -> bool:
        """Whether it was a cut-out beyond doubt."""
        return self in (CutOut.SEEN, CutOut.SAID)


_UNKNOWN = Mode.UNKNOWN
_SAYS_CUT_OUT = Mode.CUT_OUT
_NONE = CutOut.NONE
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""


class _Fall:
    """Volts on their way down: a hand at the knob, or an output that dies."""

    __slots__ = (
        "_area",
        "_began_s",
        "_count",
        "_from_volts",
        "_last_s",
        "_last_volts",
        "_stood_s",
    )

    def __init__(self, t_s: float, volts: float) -> None:
        self._began_s = self._last_s = self._stood_s = t_s
        self._from_volts = self._last_volts = volts
        self._area = 0.0
        self._count = 0

    def update(self, t_s: float, volts: float, stand_volts: float) -> None:
        """Take the next volts; within `stand_volts` of the last they stand."""
        self._count += 1
        if abs(volts - self._last_volts) > stand_volts:
            self._stood_s = t_s
        self._area += 0.5 * (volts + self._last_volts) * (t_s - self._last_s)
        self._last_s, self._last_volts = t_s, volts

    @property
    def stands(self) -> bool:
        """Whether they have come to rest."""
        return self._last_s - self._stood_s >= STOOD_S

    @property
    def is_a_hands(self) -> bool:
        """Whether they came down evenly, over more than two readings."""
        seconds, fallen = self._last_s - self._began_s, self._from_volts - self._last_volts
        if self._count < 2 or fallen <= 0.0:
            return False
        return (self._area / seconds - self._last_volts) / fallen >= EVEN


class CutOutWatch:
    """Judges a dead output by the rules at the head of this file.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    may_cut_out
        False for a supply that limits.
    cells
        In series, each with volts of its own.
    seen_within_s
        Polls may be silent for so long, and the moment still counts as seen.

    Examples
    --------
    >>> watch = CutOutWatch(10.0)
    >>> watch.update(0.0, 9.0, 9.9).value, watch.update(0.2, 0.1, 0.0).value
    ('none', 'seen')
    >>> watch.update(60.0, 8.0, 9.3).value, watch.update(60.2, 0.1, 0.0).value
    ('none', 'cut out or switched off')

    Turned down to 5.4 V, then off:

    >>> levels = ((0, 9.0, 9.9), (1, 5.4, 4.6), (2, 5.4, 4.6), (3, 5.4, 4.6))
    >>> [watch.update(90.0 + n, volts, amps).value for n, volts, amps in levels]
    ['none', 'none', 'none', 'none']
    >>> watch.update(94.0, 0.0, 0.0).value, watch.turned_down_from
    ('none', 9.0)
    """

    __slots__ = (
        "_cells",
        "_climb_amps_per_s",
        "_dead_s",
        "_dead_volts",
        "_fall",
        "_flowed_amps",
        "_flowed_s",
        "_flowed_volts",
        "_is_dying",
        "_limit_amps",
        "_may_cut_out",
        "_pending_s",
        "_readings_since_near",
        "_seen_within_s",
        "_tells_mode",
        "is_held",
        "now",
        "peak_amps",
        "peak_s",
        "peak_volts",
        "turned_down_from",
        "working_volts",
    )

    def __init__(
        self,
        limit_amps: float,
        may_cut_out: bool = True,
        seen_within_s: float = 5.0,
        cells: int = 1,
    ) -> None:
        self._cells = cells
        self._limit_amps = limit_amps
        self._may_cut_out = may_cut_out
        self._seen_within_s = seen_within_s
        self._tells_mode = False
        self._flowed_s = self._flowed_volts = self._flowed_amps = 0.0
        self._climb_amps_per_s = 0.0
        self._dead_s = 0.0
        self._readings_since_near = FEW_READINGS + 1
        self._fall: _Fall | None = None
        self._is_dying = False
        self._dead_volts: float | None = None
        self._pending_s: float | None = None
        self.now = CutOut.NONE
        self.is_held = False  # the conditions say: the volts are the supply's then
        self.peak_amps: float | None = None
        self.peak_s = self.peak_volts = 0.0
        self.turned_down_from: float | None = None
        self.working_volts: float | None = None

    def update(
        self,
        t_s: float,
        volts: float,
        amps: float,
        mode: Mode = Mode.UNKNOWN,
        is_expected: bool = False,
        is_off_awaited: bool = False,
    ) -> CutOut:
        """Take one sample.

        `is_expected` says whether a trip is expected, `is_off_awaited` whether the strip is at its
        end, so that the operator is about to switch off.
        """
        if mode is not _UNKNOWN:
            self._tells_mode = True
        if mode is _SAYS_CUT_OUT:
            self.now, self._pending_s = CutOut.SAID, None
        elif amps > DEAD_AMPS * self._limit_amps:
            self.now, self._pending_s, self._dead_volts = _NONE, None, None
            self._note_work(t_s, volts, amps)
        elif self.now is _NONE:
            if self.working_volts is not None:
                self._without_current(t_s, volts, self.working_volts, is_expected, is_off_awaited)
            if self._pending_s is not None and t_s >= self._pending_s:
                self.now, self._pending_s = CutOut.POSSIBLE, None
        return self.now

    def _without_current(
        self, t_s: float, volts: float, working: float, is_expected: bool, is_off_awaited: bool
    ) -> None:
        before = self._dead_volts
        if before is None:
            self._dead_s = t_s
            if self._fall is not None:
                # The last step of the way down: without it an output that dies looks more even.
                self._fall.update(t_s, volts, 0.0)
        goes_on = before is not None and (
            volts < FELL_FAR * working or volts < before - FALLS * working
        )
        if volts < DEAD_VOLTS * working or (volts < FELL * working and goes_on):
            self._died(t_s, is_expected, is_off_awaited)
            self.working_volts = None
        self._dead_volts = volts

    def _died(self, t_s: float, is_expected: bool, is_off_awaited: bool) -> None:
        if not self._may_cut_out or self.peak_amps is None:
            return
        is_far_over = self.peak_amps > FAR_OVER * self._limit_amps
        is_a_hands = self._fall is not None and self._fall.is_a_hands and not self._is_dying
        if is_a_hands and not is_far_over:
            self._turn_down(self._flowed_s, self._flowed_volts, self._flowed_amps)
        unseen_s = self._dead_s - self._flowed_s
        reached = max(self.peak_amps, self._flowed_amps + self._climb_amps_per_s * unseen_s)
        share = self.peak_amps / self._limit_amps
        if reached >= PASSED * self._limit_amps and unseen_s <= self._seen_within_s:
            self.now = CutOut.SEEN
        elif is_off_awaited:
            return
        elif share >= (EXPECTED_NEAR if is_expected else NEAR_LIMIT) or (
            self._readings_since_near <= FEW_READINGS
        ):
            self._pending_s = t_s + (MODE_WITHIN_S if self._tells_mode else 0.0)

    def _note_work(self, t_s: float, volts: float, amps: float) -> None:
        is_near = amps >= NEAR_LIMIT * self._limit_amps
        self._readings_since_near = 0 if is_near else self._readings_since_near + 1
        peak = self.peak_amps
        if peak is None or amps >= peak or (t_s - self.peak_s > PEAK_S and self._fall is None):
            self.turned_down_from = None
            if amps < self._flowed_amps and t_s - self._flowed_s <= PEAK_S:
                # The first reading of a fall is no peak.
                self._begin_peak(self._flowed_s, self._flowed_volts, self._flowed_amps)
            else:
                self._begin_peak(t_s, volts, amps)
        elif amps < DIES * peak:
            # A stack keeps nearly all its volts while the amps go.
            self._is_dying |= amps < DIES * self._drawn(volts, peak, HIGHEST_VOLTS)
        if peak is not None and volts < TURNED * self.peak_volts:
            if self._fall is None:
                self._fall = _Fall(t_s, volts)
            else:
                self._fall.update(t_s, volts, STAND * self.peak_volts)
            if self._is_turned_down(volts, amps, peak) and (
                peak < PASSED * self._limit_amps or self._fall.stands
            ):
                self._turn_down(t_s, volts, amps)
        if (
            self.working_volts is None
            or volts > self.working_volts
            or (amps < AT_LIMIT * self._limit_amps and not self.is_held)
        ):
            # Below the limit the volts are what the operator set; at it they are the supply's.
            # One that holds the current may read a little below its limit meanwhile.
            self.working_volts = volts
        is_climbing = volts > (1.0 + CLEAR) * self._flowed_volts and t_s > self._flowed_s
        self._climb_amps_per_s = (
            (amps - self._flowed_amps) / (t_s - self._flowed_s) if is_climbing else 0.0
        )
        self._flowed_s, self._flowed_volts, self._flowed_amps = t_s, volts, amps

    def _turn_down(self, t_s: float, volts: float, amps: float) -> None:
        self.turned_down_from = self.turned_down_from or self.peak_volts
        self._begin_peak(t_s, volts, amps)

    def _begin_peak(self, t_s: float, volts: float, amps: float) -> None:
        self.peak_amps, self.peak_s, self.peak_volts = amps, t_s, volts
        self._fall, self._is_dying = None, False

    def _drawn(self, volts: float, peak: float, intercept: float = STATED_VOLTS) -> float:
        """Amps of the bath at these volts, by the peak."""
        above = max(self.peak_volts - intercept * self._cells, LEAST_ABOVE * self._cells)
        return peak * max(volts - self.peak_volts + above, 0.0) / above

    def _is_turned_down(self, volts: float, amps: float, peak: float) -> bool:
        """Whether lower volts are real ones, and not a meter's mean over the cut-out.

        Such a mean scales volts and amps alike; a bath's amps fall by more, E0 being between.
        Those of a dying output fall by far more: its capacitor and the cell keep the volts up.
        """
        if amps < DIES * self._drawn(volts, peak, HIGHEST_VOLTS):
            return False
        if abs(volts - self._flowed_volts) <= STAND * self.peak_volts:
            return True
        mixed = peak * volts / self.peak_volts
        drawn = self._drawn(volts, peak)
        return mixed - drawn > CLEAR * peak and abs(amps - drawn) < abs(amps - mixed)
