"""What happened on one supply, row by row; at a stop, its cause and the order of events.

What is kept is a summary of the last minutes and the last two dozen happenings; it does not grow.
"""

from collections import deque

from drivers.reading import Mode
from monitor.analysis.cause.cause import Evidence, cause_of
from monitor.analysis.cut_out import DEAD_AMPS, NEAR_LIMIT, CutOut
from monitor.analysis.jump import Jump
from monitor.analysis.short import Short
from monitor.model.estimate import Estimate
from monitor.model.explanation import Cause, Explanation, Happening
from monitor.model.sample import Gap, Quality, Sample
from monitor.text import stops as say
from monitor.text.alarm_messages import NO_VALUE

_SUSPECT = Quality.SUSPECT
_OUTPUT_OFF = Mode.OUTPUT_OFF
_CONSTANT_CURRENT = Mode.CONSTANT_CURRENT
_NO_CUT_OUT = CutOut.NONE
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""

HAPPENINGS = 24
SHOWN = 8
CUT_OUTS = 10
SERIES_S = 1200.0
"""Cut-outs within twenty minutes are one series."""
PEAK_S = 3.0
SMOOTH_S = 3.0
"""A mean that forgets in so long decides whether the amps stand over the limit: single readings
over it are noise, and a supply that cuts out by current lets none stand."""
SECOND_S = 1.0
START_AFTER_S = 8.0
"""The amps of a stretch are read so long after the volts were set."""
MEAN_S = 180.0
STILL_S = 2.0
OFF_SURE_S = 2.0
"""A supply may need a poll or two to say that it has cut out."""
SHORT_KEPT_S = 5.0
OFF_SHARE = 0.8
"""Share of the set volts under which volts without current are an output that is off: a stack of
cells keeps most of them for a while."""
RESTARTS_WITHIN_S = 30.0
"""A supply that delivers again so soon has switched itself on; no hand lets it cool for less."""
DELIVERED_S = 60.0
ENDINGS = {_NO_CUT_OUT: say.OUTPUT_OFF, CutOut.POSSIBLE: say.OUTPUT_OFF_OR_CUT_OUT}


class Recollection:
    """Keeps what happened on one supply, to say at a stop what came first.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    """

    def __init__(self, limit_amps: float) -> None:
        self._limit_amps = limit_amps
        self._happenings: deque[Happening] = deque(maxlen=HAPPENINGS)
        self._cut_outs: deque[float] = deque(maxlen=CUT_OUTS)
        self._cooled_s: float | None = None
        self._is_on = False
        self._on_s = 0.0
        self._dead_s: float | None = None
        self._is_lost = False
        self._was_cut_out = False
        self._off_row: tuple[int, int, float] | None = None
        self._says_off = False
        self._turned_down_from: float | None = None
        self._amps = self._volts = self._peak_amps = self._peak_s = 0.0
        self._over_since_s: float | None = None
        self._smooth = self._flowed_s = 0.0
        self._mean_share = 0.0
        self._second_s = 0.0
        self._short: Short | None = None
        self._short_s = 0.0
        self._jump: Jump | None = None
        self._jump_s = 0.0
        self._quick_cut_outs = 0
        self._keeps_coming = False
        self._set_volts = 0.0
        self._seen_volts = 0.0
        self._moved_s: float | None = None
        self._set_from: float | None = None
        self._set_s = 0.0
        self._start_s = 0.0
        self._start_amps: float | None = None
        self._is_near = False

    def note(self, t_s: float, words: str) -> None:
        """Take what happened outside the rows, such as a strip that looks finished."""
        self._happenings.append(Happening(t_s, words))

    def update(
        self,
        row: Sample | Gap,
        estimate: Estimate,
        cut_out: CutOut = _NO_CUT_OUT,
        short: Short | None = None,
        is_lost: bool = False,
        turned_down_from: float | None = None,
        jump: Jump | None = None,
    ) -> Explanation | None:
        """Take the next row, and what the alarms' conditions made of it."""
        t_s = row.t_s
        if is_lost and not self._is_lost:
            self._is_lost = True
            return self._lost(row)
        if isinstance(row, Gap) or row.quality is _SUSPECT or row.amps is None or row.volts is None:
            return None
        if self._is_lost:
            self._is_lost = False
            is_on = row.amps > DEAD_AMPS * self._limit_amps
            self.note(t_s, say.data_back(is_on))
        if short is not None:
            if self._short is None or t_s - self._short_s > SHORT_KEPT_S:
                self.note(t_s, say.short_seen(short.amps, row.volts))
            self._short, self._short_s = short, t_s
        if jump is not None:
            if self._jump is None or t_s - self._jump_s > SHORT_KEPT_S:
                self.note(t_s, say.jump_seen(jump.from_amps, jump.to_amps))
            self._jump, self._jump_s = jump, jump.t_s
        if row.amps > DEAD_AMPS * self._limit_amps:
            self._flowing(t_s, row.volts, row.amps, estimate, row.mode)
            if cut_out is _NO_CUT_OUT and self._off_row is None:
                return None
        elif self._is_on:
            self._dead_s = self._dead_s or t_s
            if row.volts >= OFF_SHARE * self._set_volts:
                return self._stopped(row, cut_out)
            self._is_on = False
            self._off_row = (row.seq, row.t_ns, t_s)
            self._says_off = row.mode is _OUTPUT_OFF
            self._turned_down_from = turned_down_from
        return self._stopped(row, cut_out)

    def _flowing(
        self, t_s: float, volts: float, amps: float, estimate: Estimate, mode: Mode
    ) -> None:
        if not self._is_on:
            self._turned_on(t_s, volts)
        if amps >= self._peak_amps or t_s - self._peak_s > PEAK_S:
            self._peak_amps, self._peak_s = amps, t_s
        gone_s = t_s - self._flowed_s
        self._smooth += (amps - self._smooth) * (gone_s / SMOOTH_S if gone_s < SMOOTH_S else 1.0)
        self._amps, self._volts, self._flowed_s, self._dead_s = amps, volts, t_s, None
        if self._smooth <= self._limit_amps:
            self._over_since_s = None
        elif self._over_since_s is None:
            self._over_since_s = t_s
        if t_s - self._second_s >= SECOND_S:
            self._each_second(t_s, volts, amps, estimate, mode is _CONSTANT_CURRENT)

    def _turned_on(self, t_s: float, volts: float) -> None:
        self._is_on = True
        self._on_s = t_s
        # Since current flowed, not since the last cut-out: polls that are far apart miss some.
        self._keeps_coming &= t_s - self._flowed_s <= RESTARTS_WITHIN_S
        self._off_row = None
        if self._was_cut_out and self._cut_outs:
            self._cooled_s = t_s - self._cut_outs[-1]
            self.note(t_s, say.on_again(self._cooled_s))
        else:
            self.note(t_s, say.OUTPUT_ON)
        self._was_cut_out = False
        self._turned_down_from = None
        self._set_volts = self._seen_volts = volts
        self._moved_s = t_s
        self._set_from = None
        self._over_since_s = None
        self._smooth, self._flowed_s = 0.0, t_s
        self._begin_stretch(t_s)

    def _begin_stretch(self, t_s: float) -> None:
        self._start_s, self._start_amps, self._is_near = t_s, None, False

    def _each_second(
        self, t_s: float, volts: float, amps: float, estimate: Estimate, is_held: bool
    ) -> None:
        gone_s = min(t_s - self._second_s, MEAN_S)
        self._second_s = t_s
        share = amps / self._limit_amps
        self._mean_share += (share * share - self._mean_share) * gone_s / MEAN_S
        if not is_held:
            self._watch_volts(t_s, volts)
        if self._start_amps is None and t_s - self._start_s >= START_AFTER_S:
            self._start_amps = estimate.amps_expected or amps
        if share >= NEAR_LIMIT and not self._is_near:
            self._is_near = True
            self.note(t_s, say.near_limit(NEAR_LIMIT, amps))

    def _watch_volts(self, t_s: float, volts: float) -> None:
        """Tell a change of the volts once it stands still."""
        if abs(volts - self._seen_volts) > 0.1:
            self._seen_volts, self._moved_s = volts, t_s
        elif self._moved_s is not None and t_s - self._moved_s >= STILL_S:
            moved_s, self._moved_s = self._moved_s, None
            before, self._set_volts = self._set_volts, volts
            if self._set_from is None and moved_s - self._start_s <= START_AFTER_S:
                # Still the soft start: this is what it was set to.
                self.note(moved_s, say.settled(volts, self._amps))
            elif abs(volts - before) > 0.2:
                self.note(moved_s, say.volts_set(before, volts))
                self._set_from, self._set_s = before, moved_s
                self._begin_stretch(moved_s)

    def _stopped(self, row: Sample, cut_out: CutOut) -> Explanation | None:
        if cut_out is not _NO_CUT_OUT and not self._was_cut_out:
            self._was_cut_out = True
            self._off_row = None
            self._is_on = False
            if cut_out.is_sure:
                self._count_cut_out(row.t_s)
            return self._explain(row.seq, row.t_ns, row.t_s, cut_out)
        off = self._off_row
        if off is None or cut_out is not _NO_CUT_OUT or row.t_s - off[2] < OFF_SURE_S:
            return None
        self._off_row = None
        return self._explain(*off, _NO_CUT_OUT)

    def _count_cut_out(self, t_s: float) -> None:
        if not self._keeps_coming or t_s - self._on_s >= DELIVERED_S:
            self._quick_cut_outs = 0
        self._keeps_coming = True
        self._quick_cut_outs += 1
        self._cut_outs.append(t_s)

    def _explain(self, seq: int, t_ns: int, t_s: float, cut_out: CutOut) -> Explanation:
        is_recent = self._short is not None and t_s - self._short_s <= SHORT_KEPT_S
        over_s = 0.0 if self._over_since_s is None else t_s - self._over_since_s
        cause, sentence = cause_of(
            Evidence(
                limit_amps=self._limit_amps,
                is_cut_out=cut_out.is_sure,
                may_be_cut_out=cut_out is CutOut.POSSIBLE,
                says_off=self._says_off,
                amps=self._amps,
                volts=self._volts,
                peak_amps=self._peak_amps,
                start_amps=self._start_amps,
                start_ago_s=t_s - self._start_s,
                over_s=over_s,
                unseen_s=(self._dead_s or t_s) - self._flowed_s,
                mean_share=self._mean_share,
                set_from_volts=self._set_from,
                set_ago_s=t_s - self._set_s,
                turned_down_from=self._turned_down_from,
                short=self._short if is_recent else None,
                came_before=len(self._cut_outs) > 1,
                jump=self._jump if self._jump and t_s - self._jump_s <= SHORT_KEPT_S else None,
                quick_cut_outs=self._quick_cut_outs,
            )
        )
        self.note(t_s, ENDINGS.get(cut_out, say.CUT_OUT))
        series = self._series(t_s) if cut_out.is_sure else ""
        return Explanation(cause, sentence, seq, t_ns, self._order(), series)

    def _series(self, t_s: float) -> str:
        """What to say of the cut-outs before this one; "" for none."""
        near = [cut_s for cut_s in self._cut_outs if t_s - cut_s <= SERIES_S]
        if len(near) < 2:
            return ""
        return say.series(len(near), t_s - near[0], self._cooled_s)

    def _lost(self, row: Sample | Gap) -> Explanation:
        reason = row.reason or NO_VALUE
        self.note(row.t_s, say.no_data(reason))
        return Explanation(
            Cause.MAINS_OR_LINK,
            say.readings_stopped(self._amps if self._is_on else None, reason),
            row.seq,
            row.t_ns,
            self._order(),
        )

    def _order(self) -> tuple[Happening, ...]:
        return tuple(self._happenings)[-SHOWN:]
