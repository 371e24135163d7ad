"""One scene that is being played: the cell wired to the supply.

The rig goes on in steps of `DT_S`. What it is at step k depends on the scene, the seed and what
somebody has set meanwhile: never on when, how often or how fast it was asked.
"""

import math
import random
from dataclasses import dataclass

from simulators.cell import Cell
from simulators.scene import Event, Scene
from simulators.supply import Mode, Protection, Supply
from simulators.swab import Strokes

DT_S = 0.05
STEPS_PER_S = 20
# One reading of a bath's probe: its resolution and the spread of one reading, kelvin.
PROBE_STEP = 0.1
PROBE_NOISE = 0.03


@dataclass(frozen=True, slots=True)
class Point:
    """One moment: what the meters show, or what is true.

    `celsius` is None where the scene has no probe.
    """

    t_s: float
    volts: float
    amps: float
    celsius: float | None
    mode: Mode


class Wander:
    """Slow coloured noise: changes of a conductance that have no cause of their own.

    A first-order autoregression, the exact step of an Ornstein-Uhlenbeck process (Gillespie, Phys.
    Rev. E 54, 2084 (1996), from memory): x' = a x + s sqrt(1 - a^2) n with a = exp(-dt / tau), so
    neither the spread nor the correlation time depends on the step.

    Parameters
    ----------
    spread
        Standard deviation of the value, its own unit.
    memory_s
        Correlation time, seconds.
    dt_s
        Step, seconds.
    random
        Where the draws come from: one each step.

    Examples
    --------
    >>> import random
    >>> wander = Wander(0.01, 30.0, 0.05, random.Random("doc"))
    >>> round(wander.step(), 6) == round(wander.value, 6)
    True
    """

    def __init__(self, spread: float, memory_s: float, dt_s: float, random: random.Random) -> None:
        self._keep = math.exp(-dt_s / memory_s)
        self._kick = spread * math.sqrt(1.0 - self._keep**2)
        self._gauss = random.gauss
        self.value = spread * random.gauss(0.0, 1.0)

    def step(self) -> float:
        """Go one step on."""
        self.value = self._keep * self.value + self._kick * self._gauss(0.0, 1.0)
        return self.value


class Rig:
    """One scene being played.

    Parameters
    ----------
    scene
        What to play.
    seed
        Another day of the same story; the scene's own if None.

    Examples
    --------
    >>> from simulators.scene import load_scene
    >>> rig = Rig(load_scene("quiet-strip"))
    >>> rig.advance_to(60.0)
    >>> rig.truth().mode.value
    'constant-voltage'
    """

    def __init__(self, scene: Scene, seed: int | None = None) -> None:
        self.scene = scene
        self.seed = scene.seed if seed is None else seed
        self.cell = Cell(scene.bath, scene.circuit, scene.part, DT_S)
        self.supply = Supply(scene.supply, DT_S)
        self.done: list[tuple[float, Event]] = []
        circuit = scene.circuit
        self._wander = Wander(circuit.wander_share, circuit.wander_s, DT_S, self._chance("wander"))
        self._strokes = (
            Strokes(scene.swab, DT_S, self._chance("swab")) if scene.swab is not None else None
        )
        self._gauss = self._chance("meters").gauss
        self._noise = (0.0, 0.0, 0.0)
        self._step = 0
        self._trip_steps: list[int] = []
        self._stripped_step: int | None = None
        # Those with a fixed time lie the next one last; the others are looked at while they wait.
        timed = [event for event in scene.events if event.at_s is not None]
        self._timed = sorted(timed, key=lambda event: event.at_s or 0.0)[::-1]
        self._waiting = [event for event in scene.events if event.at_s is None]
        self._do_events()

    @property
    def t_s(self) -> float:
        """Seconds of bath time that the rig stands at."""
        return self._step / STEPS_PER_S

    @property
    def wander(self) -> float:
        """The slow noise on ln(conductance) as it stands."""
        return self._wander.value

    def advance_to(self, t_s: float) -> None:
        """Go on to the last step at or before `t_s`; a time gone by changes nothing."""
        last = int(t_s * STEPS_PER_S + 1e-6)
        while self._step < last:
            self._go_on()

    def measured(self) -> Point:
        """What the supply's meters show at this step."""
        plate, truth = self.scene.supply, self.truth()
        volts_noise, amps_noise, probe_noise = self._noise
        floor = 0.3 * plate.amps_step
        return Point(
            truth.t_s,
            _rounded(truth.volts + volts_noise * plate.volts_noise, plate.volts_step),
            _rounded(
                truth.amps + amps_noise * (plate.amps_noise * truth.amps + floor), plate.amps_step
            ),
            None
            if truth.celsius is None
            else _rounded(truth.celsius + probe_noise * PROBE_NOISE, PROBE_STEP),
            truth.mode,
        )

    def truth(self) -> Point:
        """What is the case at this step, before any meter."""
        supply = self.supply
        celsius = self.cell.celsius if self.scene.bath.probe else None
        return Point(self.t_s, supply.volts, supply.amps, celsius, supply.mode)

    @property
    def protection(self) -> Protection:
        """What the supply has cut out for."""
        return self.supply.protection

    def _go_on(self) -> None:
        cell, supply, gauss = self.cell, self.supply, self._gauss
        contact = self._strokes.step() if self._strokes is not None else 1.0
        cell.step(supply.volts, supply.amps, self._wander.step(), contact)
        self._noise = (gauss(0.0, 1.0), gauss(0.0, 1.0), gauss(0.0, 1.0))
        self._step += 1
        self._do_events()
        supply.step(cell)
        if supply.trips > len(self._trip_steps):
            self._trip_steps.append(self._step)
        if self._stripped_step is None and cell.is_stripped:
            self._stripped_step = self._step

    def _do_events(self) -> None:
        now_s = self._step / STEPS_PER_S + 1e-9
        while self._timed and (self._timed[-1].at_s or 0.0) <= now_s:
            self._do(self._timed.pop())
        if self._waiting:
            due = [event for event in self._waiting if self._due_s(event) <= now_s]
            for event in due:
                self._waiting.remove(event)
                self._do(event)

    def _due_s(self, event: Event) -> float:
        if event.after_trip_s is not None and len(self._trip_steps) >= event.trip:
            return self._trip_steps[event.trip - 1] / STEPS_PER_S + event.after_trip_s
        if event.after_strip_s is not None and self._stripped_step is not None:
            return self._stripped_step / STEPS_PER_S + event.after_strip_s
        return float("inf")

    def _do(self, event: Event) -> None:
        cell, supply = self.cell, self.supply
        self.done.append((self.t_s, event))
        match event.do:
            case "set-volts":
                supply.volts_set = min(event.volts or 0.0, supply.plate.volts_max)
            case "output-on":
                supply.switch_output(True)
            case "output-off":
                supply.switch_output(False)
            case "reset":
                supply.reset()
            case "short-begins":
                cell.short_siemens = 1.0 / (event.ohms or 1.0)
            case "short-ends":
                cell.short_siemens = 0.0
            case "lead-ohms":
                cell.lead_ohms = event.ohms or 0.0
            case "pour-in-water":
                cell.pour_in(event.litres or 0.0)
            case "new-part":
                cell.hang_new_part()
                self._stripped_step = None

    def _chance(self, what: str) -> random.Random:
        # Each source has its own draws, so that a change in one leaves the others as they were.
        return random.Random(f"{self.seed}/{what}")


def _rounded(value: float, step: float) -> float:
    """What a meter of that resolution shows; it shows no sign."""
    return round(max(round(value / step), 0) * step, 6)
