"""The polarisation voltage of the cell in volts, from volts and amps around a change."""

import math

STATED_VOLTS = 1.8
"""Polarisation voltage to start from: between the 1.2 V of oxygen alone and the 2.5 V of a
hard-driven cell (common practice, no source)."""
STATED_SD = 0.4
KNOWN_SD = 0.15
"""Volts a cell; one that is less sure is not held against anybody."""
OFF_VOLTS = 0.9
"""Below these no electrolysis goes on: the supply is off, or just coming on."""
LOWEST_VOLTS = 1.0
HIGHEST_VOLTS = 2.8
SMALLEST_STEP_VOLTS = 0.3
LEAST_AMPS = 0.05
"""Share of the higher amps: a cell that hardly draws is not on the straight line yet."""
LEAST_SD = 0.02
"""Volts a cell: no pair is surer, since the line is none."""
MOST_DOUBT = 0.015
"""Of ln(conductance): a third of what the end of a strip takes at least."""
OUTSIDE_SDS = 3.0
OUTSIDE_CELL_VOLTS = 0.3
"""A pair that lies further out than both is no chance."""


class PolarisationVoltage:
    """The intercept E0 of volts over amps, learned whenever the volts change.

    Volts over amps is not the bath's resistance: the electrodes take their share of the volts, so
    the conductance is `G = I / (V - E0)`. E0 is fitted. It moves with the current density, and is
    not what a meter shows before any current flows.

    One cell at two levels obeys `I = G (V - E0)` twice, hence `E0 = V1 - I1 (V2-V1)/(I2-I1)`.
    Each such pair is weighed against what is known already by its own uncertainty (a scalar
    Kalman update), and pairs outside 1.0 to 2.8 V a cell are refused. `outside` counts the
    changes that lie outside by more than chance since one lay inside, `outside_volts` is the last.
    `bounds` are the lowest and the highest that `volts` may be.

    Parameters
    ----------
    cells
        In series; each takes volts of its own.

    Examples
    --------
    1.5 S behind 2.2 V, seen at 6 V and at 9 V:

    >>> e0 = PolarisationVoltage()
    >>> e0.learn(6.0, 5.7, 9.0, 10.2, ratio_sd=0.001)
    True
    >>> round(e0.volts, 2)
    2.2

    References
    ----------
    Two-level (current-step) resistance measurement, common practice, no source. Standard
    potentials computed from the CRC Handbook's Gibbs energies put the least cell voltage with
    oxygen at 1.229 V.
    """

    __slots__ = (
        "_cells",
        "_outside_end",
        "_variance",
        "bounds",
        "outside",
        "outside_volts",
        "volts",
    )

    def __init__(self, cells: int = 1) -> None:
        self._cells = cells
        self.volts = STATED_VOLTS * cells
        self._variance = (STATED_SD * cells) ** 2
        self.outside = 0
        self._outside_end = 0.0
        self.outside_volts: float | None = None
        self.bounds = self._bounds()

    @property
    def sd(self) -> float:
        """Standard deviation of `volts`."""
        return math.sqrt(self._variance)

    def _bounds(self) -> tuple[float, float]:
        """Two standard deviations either way, within what a cell can have; all of it at first.

        A pair outside counts, too: there may be more cells than the settings say.
        """
        lowest, highest = LOWEST_VOLTS * self._cells, HIGHEST_VOLTS * self._cells
        if self._variance <= (KNOWN_SD * self._cells) ** 2:
            far = 2.0 * self.sd
            lowest, highest = max(self.volts - far, lowest), min(self.volts + far, highest)
        if self.outside_volts is not None:
            return min(lowest, self.outside_volts), max(highest, self.outside_volts)
        return lowest, highest

    def doubt(self, volts_1: float, volts_2: float) -> float:
        """What an error of `volts` makes of ln(conductance) where the volts move from 1 to 2."""
        above = volts_2 - self.volts
        return self.sd * abs(volts_2 - volts_1) / (above * above)

    def learn(
        self, volts_1: float, amps_1: float, volts_2: float, amps_2: float, ratio_sd: float
    ) -> bool:
        """Take the same cell at two levels; True if it was believed.

        Parameters
        ----------
        volts_1, amps_1, volts_2, amps_2
            The cell at the two levels.
        ratio_sd
            Relative uncertainty of amps_2 / amps_1, the bath's own wander included.
        """
        step_volts, step_amps = volts_2 - volts_1, amps_2 - amps_1
        if abs(step_volts) < SMALLEST_STEP_VOLTS or step_volts * step_amps <= 0.0:
            return False
        if min(amps_1, amps_2) < LEAST_AMPS * max(amps_1, amps_2):
            return False
        intercept = volts_1 - amps_1 * step_volts / step_amps
        # ln(I1/I2) = ln((V1-E0)/(V2-E0)): the slope against E0 turns the ratio's error into volts.
        found_sd = ratio_sd * (volts_1 - intercept) * (volts_2 - intercept) / abs(step_volts)
        found_sd = max(found_sd, LEAST_SD * self._cells)
        lowest, highest = LOWEST_VOLTS * self._cells, HIGHEST_VOLTS * self._cells
        if not lowest <= intercept <= highest:
            beyond = max(lowest - intercept, intercept - highest)
            if beyond > max(OUTSIDE_SDS * found_sd, OUTSIDE_CELL_VOLTS * self._cells):
                # The pairs of one ramp end at the same volts: they count as one change.
                self.outside += volts_2 != self._outside_end
                self._outside_end, self.outside_volts = volts_2, intercept
                self.bounds = self._bounds()
            return False
        gain = self._variance / (self._variance + found_sd * found_sd)
        self.volts += gain * (intercept - self.volts)
        self._variance *= 1.0 - gain
        self.outside, self.outside_volts = 0, None
        self.bounds = self._bounds()
        return True
