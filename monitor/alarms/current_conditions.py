"""The alarms of the amps: a short, a jump, a drop, a current held by the supply."""

from drivers.reading import Mode
from monitor.alarms.volts_conditions import CLOSE
from monitor.analysis.bath_draw import BathDraw
from monitor.analysis.cut_out import DEAD_AMPS, FELL
from monitor.analysis.drop import FELL_AT_ONCE, Drop, DropWatch
from monitor.analysis.holding import Holding
from monitor.analysis.jump import JUMPED, Jump, JumpWatch
from monitor.analysis.knob import UP, KnobMove, KnobWatch
from monitor.analysis.over_limit import OVER_LIMIT, OverLimit
from monitor.analysis.short import Short, ShortWatch, far_down_volts, working_volts
from monitor.model.alarm import AlarmName, Priority
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.model.run import LimitKind
from monitor.model.sample import Sample
from monitor.text import alarm_messages as say

AT_LIMIT_SHARE = 0.97
FAR_DOWN_FOR_S = 1.5
REVERSED_VOLTS, REVERSED_SHARE = -0.3, -0.02
REVERSED_FOR_S = 0.4
"""Two readings: a meter's zero may wander below nothing for one."""
OPEN_FOR_S = 6.0
LIFTED_FOR_S = 0.5
LIFTED_WITHIN_S = 60.0
"""Amps that were gone so shortly before, with the volts up, come and go by a hand with a swab."""
FLOWED_FOR_S = 3.0

NO_SHORT = Finding(AlarmName.SHORT, False, say.NO_SHORT)
NOT_REVERSED = Finding(AlarmName.REVERSED, False, say.NOT_REVERSED)
NO_JUMP = Finding(AlarmName.AMPS_JUMPED, False, say.NO_JUMP)
JUMPED_FURTHER = Finding(AlarmName.AMPS_JUMPED, False, say.JUMPED_FURTHER, at_once=True)
LIMIT_RIGHT = Finding(AlarmName.LIMIT_WRONG, False, say.LIMIT_RIGHT)
NOT_HELD = Finding(AlarmName.CURRENT_LIMITED, False, say.NOT_HELD)
CURRENT_FLOWS = Finding(AlarmName.NO_CURRENT, False, say.CURRENT_FLOWS)
NO_CURRENT_WANTED = Finding(AlarmName.NO_CURRENT, False, say.OUTPUT_OFF)
QUIET = (NO_SHORT, NOT_REVERSED, NO_JUMP, LIMIT_RIGHT, NOT_HELD, CURRENT_FLOWS)


class _Since:
    """Since when something has been so, without a break."""

    __slots__ = ("since_s",)

    def __init__(self) -> None:
        self.since_s: float | None = None

    def lasts(self, t_s: float, holds: bool, for_s: float) -> bool:
        """Whether it has held for so long."""
        if not holds:
            self.since_s = None
            return False
        if self.since_s is None:
            self.since_s = t_s
        return t_s - self.since_s >= for_s


class CurrentConditions:
    """Judges short, jump, reversal, open circuit, margin, and the supply's own limit.

    Parameters
    ----------
    limit_amps, limit_kind
        What the settings say of the supply.
    poll_s
        Seconds between polls.
    fittings
        What is on the way from the supply's terminals and back.
    """

    def __init__(
        self, limit_amps: float, limit_kind: LimitKind, poll_s: float, fittings: Fittings
    ) -> None:
        self._limit_amps = limit_amps
        self._trips = limit_kind is LimitKind.TRIPS
        self._dead_amps = DEAD_AMPS * limit_amps
        self._fittings = fittings
        lead_ohms = 0.0 if fittings.leads is None else fittings.leads.ohms()
        self._shorts = ShortWatch(limit_amps, lead_ohms, fittings.cells)
        self._jumps = JumpWatch(limit_amps)
        self._draw = BathDraw(poll_s)
        self._reversed, self._far_down = _Since(), _Since()
        self._open, self._flowed, self._lifted = _Since(), _Since(), _Since()
        self._lifted_s = -LIFTED_WITHIN_S
        self._drops, self._knob = DropWatch(), KnobWatch()
        self.works_by_swab = False
        self.drop: Drop | None = None
        self.knob_move: KnobMove | None = None
        self._jump_priority: Priority | None = None
        self._has_flowed = False
        self._flowed_volts = 0.0
        self._over_limit = OverLimit(limit_amps)
        self._most_amps = OVER_LIMIT * limit_amps
        self._ordinary_volts = far_down_volts(fittings.cells) + limit_amps * lead_ohms
        self._was_quiet = False

    def refit(self, fittings: Fittings) -> None:
        """Go on with the work, the limits and the step of another job card."""
        self._fittings = fittings

    @property
    def short(self) -> Short | None:
        """The short that stands now."""
        return self._shorts.now

    @property
    def jump(self) -> Jump | None:
        """A jump of the amps, also one that a single reading has shown."""
        return self._jumps.now or self._jumps.suspected

    def judge(
        self,
        row: Sample,
        volts: float,
        amps: float,
        holding: Holding,
        intercepts: tuple[float, float],
        is_swab: bool,
    ) -> tuple[Finding, ...]:
        """All of them, in the order of the catalogue; `tripped` and `trip-expected` go between."""
        t_s = row.t_s
        is_ordinary = not holding.is_held and self._is_ordinary(t_s, volts, amps)
        if is_ordinary and self._was_quiet:
            # Nothing waits or counts: nearly every sample ends here.
            self._flowed_volts = volts
            self._draw.update(t_s, volts, amps)
            return QUIET
        findings = self._judge(row, volts, amps, holding, intercepts, is_swab)
        self._was_quiet = (
            is_ordinary
            and findings == QUIET
            and self._has_flowed
            and not (self._drops.is_waiting or self._drops.is_suspected or self._knob.is_moving)
            and self.drop is None
            and self.knob_move is None
        )
        return findings

    def _is_ordinary(self, t_s: float, volts: float, amps: float) -> bool:
        """Whether the reading is like the last seconds', and clear of every threshold below."""
        draw = self._draw
        level = draw.amps
        return (
            FELL_AT_ONCE * level <= amps < JUMPED * level
            and self._dead_amps < amps < self._most_amps
            and self._ordinary_volts < volts
            and draw.holds(t_s, volts)
        )

    def _judge(
        self,
        row: Sample,
        volts: float,
        amps: float,
        holding: Holding,
        intercepts: tuple[float, float],
        is_swab: bool,
    ) -> tuple[Finding, ...]:
        t_s = row.t_s
        flows = amps > self._dead_amps
        draw = self._draw
        self.drop = self.knob_move = None
        if not flows:
            least_volts = working_volts(intercepts, self._fittings.cells > 1)
            self._shorts.update(t_s, volts, amps, intercepts, draw)
            draw.forget()
            if self._lifted.lasts(t_s, volts > least_volts, LIFTED_FOR_S):
                self._lifted_s = t_s
            self._drops.restart()
            self._knob.restart()
            short, jump = None, None
        else:
            short = self._shorts.update(t_s, volts, amps, intercepts, draw)
            jump = self._jumps.update(t_s, volts, amps, draw, is_swab)
            if short is None:
                self._note_changes(t_s, volts, amps, intercepts)
        return (
            NO_SHORT if short is None else self._short(short, volts),
            self._judge_reversed(t_s, volts, amps),
            *self._judge_jump(jump, volts, amps),
            self._judge_limit(t_s, amps, short),
            self._judge_held(t_s, volts, amps, row.mode, holding),
            self._judge_open(t_s, volts, amps, is_swab),
        )

    def _note_changes(
        self, t_s: float, volts: float, amps: float, intercepts: tuple[float, float]
    ) -> None:
        draw, drops, knob = self._draw, self._drops, self._knob
        self._lifted.since_s = None
        may_have_moved = volts > UP * draw.volts or knob.is_moving
        if may_have_moved and draw.volts > working_volts(intercepts, self._fittings.cells > 1):
            self.knob_move = knob.update(t_s, volts, amps, draw)
        may_have_fallen = amps < FELL_AT_ONCE * draw.amps or drops.is_waiting
        is_swab = self.works_by_swab or t_s - self._lifted_s < LIFTED_WITHIN_S
        if may_have_fallen and not is_swab:
            self.drop = drops.update(t_s, volts, amps, draw)
        if not drops.is_suspected and self._jumps.suspected is None:
            draw.update(t_s, volts, amps)

    def _short(self, short: Short, volts: float) -> Finding:
        words = say.short(short.amps, volts, short.ohms, short.bath_amps)
        has_collapsed = self._shorts.has_collapsed(volts, self._draw)
        return Finding(AlarmName.SHORT, True, words, explains=has_collapsed)

    def _judge_reversed(self, t_s: float, volts: float, amps: float) -> Finding:
        wrong = volts < REVERSED_VOLTS or amps < REVERSED_SHARE * self._limit_amps
        if not wrong:
            self._reversed.since_s = None
            return NOT_REVERSED
        holds = self._reversed.lasts(t_s, wrong, REVERSED_FOR_S)
        return Finding(AlarmName.REVERSED, holds or None, say.reversed_leads(volts, amps))

    def _judge_jump(self, jump: Jump | None, volts: float, amps: float) -> tuple[Finding, ...]:
        if jump is None:
            self._jump_priority = None
            return (NO_JUMP,)
        is_near = max(jump.to_amps, amps) >= CLOSE * self._limit_amps
        priority = Priority.HIGH if is_near else Priority.MEDIUM
        words = say.amps_jumped(jump.from_amps, jump.to_amps, volts)
        finding = Finding(AlarmName.AMPS_JUMPED, True, words, priority=priority)
        before, self._jump_priority = self._jump_priority, priority
        if before is Priority.MEDIUM and is_near:
            return (JUMPED_FURTHER, finding._replace(at_once=True))
        return (finding,)

    def _judge_limit(self, t_s: float, amps: float, short: Short | None) -> Finding:
        if short is not None or not self._over_limit.update(t_s, amps):
            return LIMIT_RIGHT
        return Finding(AlarmName.LIMIT_WRONG, True, say.limit_wrong(amps, self._limit_amps))

    @property
    def is_limit_wrong(self) -> bool:
        """Whether the amps stand over the limit that the settings name."""
        return self._over_limit.stands

    def _judge_held(
        self, t_s: float, volts: float, amps: float, mode: Mode, holding: Holding
    ) -> Finding:
        if amps <= self._dead_amps:
            return NOT_HELD
        fittings = self._fittings
        at_limit = AT_LIMIT_SHARE * self._limit_amps <= amps <= OVER_LIMIT * self._limit_amps
        far_down = volts < far_down_volts(fittings.cells) and (at_limit or holding.is_held)
        is_far_down = self._far_down.lasts(t_s, far_down, FAR_DOWN_FOR_S)
        if not holding.is_held and not is_far_down:
            return NOT_HELD
        words = say.held(holding.amps if holding.is_held else amps, volts)
        # A supply that holds as soon as it is on may well stand on metal.
        if is_far_down or holding.is_from_start:
            return Finding(
                AlarmName.CURRENT_LIMITED, True, words, at_once=True, action=say.LOOK_FOR_METAL
            )
        return Finding(AlarmName.CURRENT_LIMITED, True, words)

    def _judge_open(self, t_s: float, volts: float, amps: float, is_swab: bool) -> Finding:
        if amps > self._dead_amps:
            self._has_flowed = self._has_flowed or self._flowed.lasts(t_s, True, FLOWED_FOR_S)
            self._flowed_volts = volts
            self._open.since_s = None
            return CURRENT_FLOWS
        self._flowed.since_s = None
        stands = volts >= FELL * self._flowed_volts and self._flowed_volts > 0.0
        if not stands or is_swab or not self._has_flowed:
            self._open.since_s = None
            self._has_flowed = self._has_flowed and volts > 0.5 * self._flowed_volts
            return NO_CURRENT_WANTED
        if not self._open.lasts(t_s, True, OPEN_FOR_S):
            return Finding(AlarmName.NO_CURRENT, None, "")
        return Finding(AlarmName.NO_CURRENT, True, say.no_current(volts))
