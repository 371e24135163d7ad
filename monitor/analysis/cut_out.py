"""Volts, amps and the supply's own word in; whether a dead output is a cut-out, and how sure, out.

1. A supply that says it has cut out is believed; amps that flow end every cut-out.
2. An output has gone dead where nothing flows and the volts are under half of what they were. The
   first dead sample decides; later ones are too far from the peak.
3. A supply that limits its amps does not cut out of itself.
4. Amps within 1 % of the limit a moment before: a cut-out. So are amps that climbed with the volts
   after switching on and would have passed it by the dead sample.
5. Amps over 90 % of it, or over 80 % while a trip is expected: a cut-out, or the operator's switch;
   a volt and an amp cannot tell them apart. It is told as both.
6. Not even that where the strip was at its end and switching off was what came next.
7. Volts that were turned down first are the operator: the amps count that they were turned down to.
8. Nobody saw the moment where polls were silent for long: then it is possible at most.
9. A supply that tells its mode may need a poll or two to tell a cut-out: possible ones wait for it.
"""

from enum import Enum

from drivers.reading import Mode
from monitor.analysis.conductance import STATED_VOLTS

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
PEAK_S = 3.0
"""Seconds for which a peak counts as the reason of a cut-out."""
DEAD_VOLTS = 0.5
MODE_WITHIN_S = 2.0
TURNED = 0.95
"""Share of the peak's volts under which they count as turned down."""
STAND = 0.02
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


class CutOutWatch:
    """Judges a dead output by the rules at the head of this file.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    may_cut_out
        False for a supply that limits.
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

    >>> [watch.update(90.0 + n, v, a).value for n, v, a in ((0, 9.0, 9.9), (1, 5.4, 4.6))]
    ['none', 'none']
    >>> watch.update(92.0, 0.0, 0.0).value, watch.turned_down_from
    ('none', 9.0)
    """

    __slots__ = (
        "_climb_amps_per_s",
        "_flowed_amps",
        "_flowed_s",
        "_flowed_volts",
        "_limit_amps",
        "_may_cut_out",
        "_pending_s",
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
        self, limit_amps: float, may_cut_out: bool = True, seen_within_s: float = 5.0
    ) -> None:
        self._limit_amps = limit_amps
        self._may_cut_out = may_cut_out
        self._seen_within_s = seen_within_s
        self._tells_mode = False
        self._flowed_s = self._flowed_volts = self._flowed_amps = 0.0
        self._climb_amps_per_s = 0.0
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
            self.now, self._pending_s = _NONE, None
            self._note_work(t_s, volts, amps)
        elif self.now is _NONE:
            if self.working_volts is not None and volts < DEAD_VOLTS * self.working_volts:
                self._died(t_s, is_expected, is_off_awaited)
                self.working_volts = None
            if self._pending_s is not None and t_s >= self._pending_s:
                self.now, self._pending_s = CutOut.POSSIBLE, None
        return self.now

    def _died(self, t_s: float, is_expected: bool, is_off_awaited: bool) -> None:
        if not self._may_cut_out or self.peak_amps is None:
            return
        unseen_s = t_s - self._flowed_s
        reached = max(self.peak_amps, self._flowed_amps + self._climb_amps_per_s * unseen_s)
        share = self.peak_amps / self._limit_amps
        if reached >= PASSED * self._limit_amps and unseen_s <= self._seen_within_s:
            self.now = CutOut.SEEN
        elif share >= (EXPECTED_NEAR if is_expected else NEAR_LIMIT) and not is_off_awaited:
            self._pending_s = t_s + (MODE_WITHIN_S if self._tells_mode else 0.0)

    def _note_work(self, t_s: float, volts: float, amps: float) -> None:
        peak = self.peak_amps
        if peak is None or amps >= peak or t_s - self.peak_s > PEAK_S:
            self.turned_down_from = None
            self._begin_peak(t_s, volts, amps)
        elif volts < TURNED * self.peak_volts and self._is_turned_down(volts, amps, peak):
            self.turned_down_from = self.turned_down_from or self.peak_volts
            self._begin_peak(t_s, volts, amps)
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

    def _begin_peak(self, t_s: float, volts: float, amps: float) -> None:
        self.peak_amps, self.peak_s, self.peak_volts = amps, t_s, volts

    def _is_turned_down(self, volts: float, amps: float, peak: float) -> bool:
        """Whether lower volts are real ones, and not a meter's mean over the cut-out.

        Such a mean scales volts and amps alike; a bath's amps fall by more, E0 being between.
        """
        if abs(volts - self._flowed_volts) <= STAND * self.peak_volts:
            return True
        mixed = peak * volts / self.peak_volts
        above = max(self.peak_volts - STATED_VOLTS, 0.1)
        drawn = peak * max(volts - STATED_VOLTS, 0.0) / above
        return mixed - drawn > CLEAR * peak and abs(amps - drawn) < abs(amps - mixed)
