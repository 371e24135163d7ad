"""A run of the corpus in, what somebody would say of it who knows all but the noise to come.

The oracle knows the cell, what the operator is going to do, and where the slow noise stands now.
It plays some hundred futures: the mean course goes on as the cell's equations have it, the slow
noise goes on from where it stands, a swab's strokes are drawn anew. Nobody who only reads the
meters can do better, so its error is the bound to come near.
"""

import math
import random
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from benchmarks.forecast_runs import Run
from monitor.estimating.score.run_score import AHEAD_S, RunScore, Scoring
from simulators.cell import Cell
from simulators.scene import Event, Scene
from simulators.swab import Strokes

DT_S = 0.5
FUTURES = 400
HORIZON_S = 120.0
FURTHEST_S = 1800.0
EVERY_S = 5.0
RAISE_ABOVE, RETURN_BELOW = 0.5, 0.2
STROKES_DT_S = 0.05
STROKES_S = 6000.0
OUT_OF_REACH_SD = 5.5

Floats = NDArray[np.float64]


def judge(run: Run) -> RunScore:
    """What the oracle scores in one run."""
    scoring = Scoring(run.trip_s)
    oracle = _Oracle(run)
    stands = False
    looked = [0.0 if run.trip_s is None else run.trip_s - ahead_s for ahead_s in AHEAD_S]
    next_s = 0.0
    for place, row in run.before_the_trip():
        asked = any(0.0 <= row.t_s - t_s < 1.0 / run.drawn.rate_hz for t_s in looked if t_s > 0.0)
        if row.t_s < next_s and not asked:
            continue
        if row.t_s >= next_s:
            next_s = row.t_s + EVERY_S
        chance = oracle.chance(row.t_s, run.wander[place])
        stands = chance > (RETURN_BELOW if stands else RAISE_ABOVE)
        scoring.take(
            row.t_s, stands, oracle.median_s(row.t_s, run.wander[place]) if asked else None
        )
    return scoring.end(run.seconds)


class _Oracle:
    """All futures of one run."""

    def __init__(self, run: Run) -> None:
        scene = run.drawn.scene
        circuit, plate = scene.circuit, scene.supply
        self._sd = circuit.wander_share
        self._needed = _needed(scene, run.seconds + FURTHEST_S)
        self._bank = _noise(circuit.wander_s)
        self._keep = np.exp(-DT_S / circuit.wander_s * np.arange(1, self._bank.shape[1] + 1))
        self._in_a_row = 1 if plate.limit == "limits" else 1 + round(plate.delay_s / DT_S)
        self._contact = None if scene.swab is None else _contact(scene)

    def chance(self, t_s: float, wander: float) -> float:
        """Chance of a trip within the horizon."""
        steps = round(HORIZON_S / DT_S)
        begin = int(t_s / DT_S) + 1
        if np.min(self._needed[begin : begin + steps]) > OUT_OF_REACH_SD * self._sd + abs(wander):
            return 0.0
        return float(np.mean(self._trips(begin, steps, wander) < steps))

    def median_s(self, t_s: float, wander: float) -> float | None:
        """Median time to the trip; None past the furthest that is played."""
        begin = int(t_s / DT_S) + 1
        steps = round(FURTHEST_S / DT_S)
        at = float(np.median(self._trips(begin, steps, wander)))
        return None if at >= steps else (begin + at) * DT_S - t_s

    def _trips(self, begin: int, steps: int, wander: float) -> NDArray[np.int64]:
        """The step at which each future trips; `steps` where it does not."""
        needed = self._needed[begin : begin + steps]
        steps = len(needed)
        excess = wander * self._keep[:steps] + self._sd * self._bank[:, :steps]
        if self._contact is not None:
            starts = np.random.default_rng(begin).integers(0, len(self._contact), FUTURES)
            places = starts[:, None] + np.arange(steps)[None, :]
            excess = excess + np.take(self._contact, places, mode="wrap")
        over = excess > needed[None, :]
        for _ in range(self._in_a_row - 1):
            over = over[:, 1:] & over[:, :-1]
        first = np.argmax(over, axis=1) + self._in_a_row - 1
        return np.where(over.any(axis=1), first, steps)


@lru_cache(maxsize=8)
def _noise(memory_s: float) -> Floats:
    """Futures of a unit AR(1) that stands at nothing now."""
    steps = round(FURTHEST_S / DT_S)
    keep = math.exp(-DT_S / memory_s)
    kicks = np.random.default_rng(1).standard_normal((steps, FUTURES)) * math.sqrt(1 - keep * keep)
    value = np.zeros(FUTURES)
    paths = np.empty((steps, FUTURES))
    for step in range(steps):
        value = keep * value + kicks[step]
        paths[step] = value
    return np.ascontiguousarray(paths.T)


def _contact(scene: Scene) -> Floats:
    """ln of a hand's contact, a long stretch of it."""
    assert scene.swab is not None
    strokes = Strokes(scene.swab, STROKES_DT_S, random.Random("oracle"))
    per_step = round(DT_S / STROKES_DT_S)
    values = [strokes.step() for _ in range(round(STROKES_S / STROKES_DT_S))][::per_step]
    return np.log(np.maximum(values, 1e-6))


def _mean_contact(scene: Scene) -> float:
    swab = scene.swab
    if swab is None:
        return 1.0
    on = swab.lift_every_s / (swab.lift_every_s + swab.lift_s)
    return on * (swab.least_contact + (1.0 - swab.least_contact) * 2.0 / 3.0)


def _needed(scene: Scene, seconds: float) -> Floats:
    """By how much ln(conductance) must exceed its mean course to draw the limit, step by step."""
    cell = Cell(scene.bath, scene.circuit, scene.part, DT_S)
    limit_amps, contact = scene.supply.limit_amps, _mean_contact(scene)
    waiting = sorted(scene.events, key=lambda event: event.at_s or 0.0)[::-1]
    volts, is_on = 0.0, False
    needed = np.full(round(seconds / DT_S) + 2, np.inf)
    for step in range(len(needed)):
        while waiting and (waiting[-1].at_s or 0.0) <= step * DT_S:
            volts, is_on = _do(waiting.pop(), cell, volts, is_on)
        above = volts - limit_amps * cell.lead_ohms - cell.polarisation_volts
        if is_on and above > 0.0:
            needed[step] = math.log(limit_amps / above * contact / cell.siemens)
        amps = cell.amps_at(volts) if is_on else 0.0
        cell.step(volts if is_on else 0.0, min(amps, limit_amps), 0.0, contact)
    return needed


def _do(event: Event, cell: Cell, volts: float, is_on: bool) -> tuple[float, bool]:
    match event.do:
        case "set-volts":
            return event.volts or 0.0, is_on
        case "output-on":
            return volts, True
        case "output-off":
            return volts, False
        case "lead-ohms":
            cell.lead_ohms = event.ohms or 0.0
    return volts, is_on
