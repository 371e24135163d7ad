"""Detects a short circuit at the first sample that shows it."""

from dataclasses import dataclass

from monitor.analysis.bath_draw import BathDraw
from monitor.analysis.conductance import HIGHEST_VOLTS

LEAST_CELL_VOLTS = 1.0
"""Water is not split under 1.23 V (CRC Handbook's Gibbs energies): what flows below is metal."""
STACK_LEAST_CELL_VOLTS = 0.5
STACK_LOW_CELL_VOLTS = 1.3
STACK_FAR_DOWN_CELL_VOLTS = 1.5
"""A stack is built to take few volts a cell: 1.48 V split water without heat from outside (CRC
Handbook's enthalpy of formation), and little more draws all that the supply has."""
LEAST_VOLTS = -0.3
"""Below, the leads are exchanged."""
LOW_CELL_VOLTS = 2.5
"""Hardly above the volts that the electrodes take, no bath draws half the limit."""
FAR_DOWN_CELL_VOLTS = 4.5
"""Few strips are run at fewer volts: a supply that has let them fall so far stands on metal."""
HALF = 0.5
LEAST_SHARE = 0.2
"""Share of the limit under which a short would do no harm yet."""
TIMES = 2.2
"""A second part like the first doubles the amps; a short does more."""
LEAST_ABOVE = 0.5
STAYS = 2.0
GONE_TIMES = 1.6
COLLAPSED = 0.6
"""Share of the volts that stood before, under which they have collapsed."""
LOW_FOR_S = 0.4
STANDS_S = 10.0
"""A short whose volts stand as set for so long is none that a supply can feel: it is over."""


@dataclass(frozen=True, slots=True)
class Short:
    """What was seen: volts over amps, and the amps that the bath alone would have drawn."""

    ohms: float
    amps: float
    bath_amps: float | None


class ShortWatch:
    """Sees a short by three signs.

    1. Current flows at volts, less the leads' own drop, at which no cell conducts.
    2. Half the limit and more flows at hardly more than the volts that the electrodes take, for two
       readings, where nothing is known of the bath: a short that was there at switch-on.
    3. The amps are 2.2 times what the bath drew a moment ago, carried to these volts with the
       intercept that lets it draw most.

    It is over when volts over amps have doubled and the bath's own amps are back, when nothing
    flows, or when the volts have stood as set for 10 s.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    lead_ohms
        Of the leads, where known.
    cells
        Cells in series: each has volts of its own.

    Examples
    --------
    >>> watch, draw = ShortWatch(40.0), BathDraw(1.0)
    >>> watch.update(10.0, 8.0, 24.0, (1.2, 2.4), draw) is None
    True
    >>> watch.update(10.2, 0.6, 52.0, (1.2, 2.4), draw).ohms < 0.05
    True
    """

    __slots__ = (
        "_amps",
        "_far_down_volts",
        "_half_amps",
        "_is_stack",
        "_lead_ohms",
        "_least_volts",
        "_low_since_s",
        "_low_volts",
        "_stood_since_s",
        "now",
    )

    def __init__(self, limit_amps: float, lead_ohms: float = 0.0, cells: int = 1) -> None:
        self._amps = LEAST_SHARE * limit_amps
        self._half_amps = HALF * limit_amps
        self._lead_ohms = lead_ohms
        self._least_volts = LEAST_CELL_VOLTS if cells == 1 else STACK_LEAST_CELL_VOLTS * cells
        self._is_stack = cells > 1
        self._low_volts = LOW_CELL_VOLTS if cells == 1 else STACK_LOW_CELL_VOLTS * cells
        self._far_down_volts = far_down_volts(cells)
        self._low_since_s: float | None = None
        self._stood_since_s: float | None = None
        self.now: Short | None = None

    def has_collapsed(self, volts: float, draw: BathDraw) -> bool:
        """Whether these volts are far under those that were set, or that any bath needs."""
        return volts < self._far_down_volts or volts < COLLAPSED * draw.volts

    def update(
        self,
        t_s: float,
        volts: float,
        amps: float,
        intercepts: tuple[float, float],
        draw: BathDraw,
    ) -> Short | None:
        """Take one sample; None without a short.

        `intercepts` are the lowest and the highest volts that the electrodes may take, `draw` what
        the bath drew up to now.
        """
        if amps < self._amps or volts < LEAST_VOLTS:
            self.now = self._low_since_s = None
            return None
        bath_amps = None
        if draw.is_known(t_s) and draw.volts >= working_volts(intercepts, self._is_stack):
            bath_amps = bath_draws(volts, intercepts, draw)
        if self.now is not None:
            if not self._goes_on(self.now, t_s, volts, amps, intercepts, draw):
                self.now = None
            return self.now
        if (
            volts - amps * self._lead_ohms < self._least_volts
            or self._is_low_from_the_start(t_s, volts, amps, bath_amps)
            or (bath_amps is not None and amps > TIMES * bath_amps)
        ):
            self._stood_since_s = None
            self.now = Short(max(volts, 0.0) / amps, amps, bath_amps)
        return self.now

    def _is_low_from_the_start(
        self, t_s: float, volts: float, amps: float, bath_amps: float | None
    ) -> bool:
        if bath_amps is not None or volts >= self._low_volts or amps < self._half_amps:
            self._low_since_s = None
            return False
        if self._low_since_s is None:
            self._low_since_s = t_s
        return t_s - self._low_since_s >= LOW_FOR_S

    def _goes_on(
        self,
        short: Short,
        t_s: float,
        volts: float,
        amps: float,
        intercepts: tuple[float, float],
        draw: BathDraw,
    ) -> bool:
        if volts >= STAYS * short.ohms * amps and volts >= self._low_volts:
            bath_amps = bath_draws(volts, intercepts, draw) if draw.volts else None
            if bath_amps is None or amps < GONE_TIMES * bath_amps:
                return False
        if self.has_collapsed(volts, draw):
            self._stood_since_s = None
            return True
        if self._stood_since_s is None:
            self._stood_since_s = t_s
        if t_s - self._stood_since_s < STANDS_S:
            return True
        draw.forget()
        return False


def far_down_volts(cells: int) -> float:
    """Volts under which a supply stands on metal if it gives all that it can.

    >>> far_down_volts(1), far_down_volts(34)
    (4.5, 51.0)
    """
    return FAR_DOWN_CELL_VOLTS if cells == 1 else STACK_FAR_DOWN_CELL_VOLTS * cells


def working_volts(intercepts: tuple[float, float], is_stack: bool) -> float:
    """Volts under which a bath may hardly have begun to draw: its amps say little of more volts.

    What electrodes take grows with the amps, so that an intercept learned at a few of them is low.

    >>> working_volts((1.5, 1.9), is_stack=False), working_volts((50.0, 58.0), is_stack=True)
    (3.3, 58.5)
    """
    highest = intercepts[1] if is_stack else max(intercepts[1], HIGHEST_VOLTS)
    return highest + LEAST_ABOVE


def bath_draws(volts: float, intercepts: tuple[float, float], draw: BathDraw) -> float:
    """Amps of the bath at these volts, by its level and the intercept that makes them most."""
    lowest, highest = intercepts
    intercept = highest if volts > draw.volts else lowest
    intercept = min(intercept, draw.volts - 0.2)
    above = draw.volts - intercept
    return draw.amps * max(volts - intercept, min(LEAST_ABOVE, above)) / above
