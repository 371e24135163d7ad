"""A bench that a scene plays on: supply, cell and meters, and the hand that works at them."""

from collections.abc import Callable

from benchmarks.hazards.cell import Cell
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.meter import Meter
from benchmarks.hazards.played import Hand, Played, Reading, Settings
from benchmarks.hazards.supply import AtLimit, Protection, Supply

FINE_S = 0.02
MOVING_S = 3.0
"""So long after a deed everything is reckoned in fine steps."""
COARSE_S = 0.25

At = Callable[[float], None]
"""Called with the seconds since a stretch began, before each step."""


class Bench:
    """Plays one scene and keeps its readings.

    Parameters
    ----------
    settings
        What the program is told; by default the true limit, and that the supply cuts out there.
    """

    def __init__(
        self,
        draw: Draw,
        at_limit: AtLimit = AtLimit.CUTS_OUT,
        settings: Settings | None = None,
        parts: int = 1,
        litres: float | None = None,
        cells: int = 1,
    ) -> None:
        self.draw = draw
        self.cell = Cell(draw, parts, litres, cells)
        self.supply = Supply(draw, self.cell, Protection(at_limit, draw.limit_amps))
        self.meter = Meter(draw)
        stated = "holds" if at_limit is AtLimit.HOLDS else "trips"
        self.settings = settings or Settings(draw.limit_amps, stated)
        self.played = Played(draw, self.settings)
        self.t_s = 0.0
        self._next_poll_s = draw.between(0.0, draw.poll_s)
        self._moving_until_s = MOVING_S

    def mark(self, name: str = "event") -> None:
        """Something begins now."""
        self.played.marks[name] = self.t_s
        self.stir()

    def stir(self) -> None:
        """Reckon in fine steps for a while."""
        self._moving_until_s = self.t_s + MOVING_S

    def confirm(self, prompt: str = "") -> None:
        """The operator confirms a prompt, or says with his own eye that the strip is done."""
        self.played.hands.append(Hand(self.t_s, "confirm", prompt))

    def switch(self, on: bool) -> None:
        """Turn the output on or off."""
        self.supply.switch(on)
        self.stir()

    def touch(self, amps: float, volts: float | None = None) -> None:
        """Metal bridges part and counter-electrode: so many amps at these volts (the knob's)."""
        cell = self.cell
        cell.touch_siemens = 0.0
        node_volts = (self.supply.knob_volts if volts is None else volts) - amps * cell.lead_ohms
        through = cell.siemens * max(node_volts - cell.own_volts * cell.cells, 0.0)
        cell.touch_siemens = max(amps - through, 0.05 * amps) / max(node_volts, 0.02)
        self.stir()

    def strip(self, seconds: float | None = None) -> None:
        """Switch on, and strip for a while in peace."""
        self.run(self.draw.between(2.0, 6.0))
        self.switch(True)
        self.run(self.draw.between(40.0, 120.0) if seconds is None else seconds)

    def run(self, seconds: float, deed: At | None = None) -> None:
        """Go on for so long; `deed` moves something meanwhile."""
        began_s, end_s = self.t_s, self.t_s + seconds
        supply, meter = self.supply, self.meter
        while self.t_s < end_s - 1e-9:
            if deed is not None:
                deed(self.t_s - began_s)
            fine = self.t_s < self._moving_until_s or not supply.is_calm
            dt_s = FINE_S if fine else COARSE_S
            dt_s = min(dt_s, end_s - self.t_s, max(self._next_poll_s - self.t_s, 1e-6))
            supply.step(dt_s)
            self.t_s += dt_s
            meter.look(self.t_s, dt_s, supply.volts, supply.amps)
            if self.t_s + 1e-9 >= self._next_poll_s:
                self._poll()

    def _poll(self) -> None:
        shown = self.meter.read()
        volts, amps = (None, None) if shown is None else shown
        self.played.readings.append(Reading(round(self._next_poll_s, 6), volts, amps))
        self._next_poll_s += self.draw.poll_s

    def ramp(self, seconds: float, volts: float) -> None:
        """A hand turns the volts to a new value within so long."""
        start = self.supply.knob_volts

        def turn(since_s: float) -> None:
            share = 1.0 if seconds <= 0.0 else min(since_s / seconds, 1.0)
            self.supply.knob_volts = start + share * (volts - start)
            self.stir()

        self.run(max(seconds, FINE_S), turn)
        self.supply.knob_volts = volts
        self.stir()

    def end(self) -> Played:
        """The scene as it was played."""
        return self.played
