"""The mean course of a scene and many futures of its noise, for both references."""

import math
import random
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

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

Floats = NDArray[np.float64]
Steps = NDArray[np.int64]


@dataclass(frozen=True)
class Course:
    """A scene without its slow noise, one value each `DT_S`.

    Parameters
    ----------
    x
        ln of the conductance in full contact.
    limit_x
        The same where the limit's amps would flow; infinite while the output is off.
    polarisation_volts, lead_ohms
        As the cell has them.
    in_a_row
        Steps over the limit that make a trip.
    """

    x: Floats
    limit_x: Floats
    polarisation_volts: Floats
    lead_ohms: Floats
    in_a_row: int


def course(scene: Scene, seconds: float) -> Course:
    """Play the cell's own equations with all that the operator is going to do."""
    cell = Cell(scene.bath, scene.circuit, scene.part, DT_S)
    limit_amps, contact = scene.supply.limit_amps, _mean_contact(scene)
    waiting = sorted(scene.events, key=lambda event: event.at_s or 0.0)[::-1]
    volts, is_on = 0.0, False
    steps = round(seconds / DT_S) + 2
    limit_x = np.full(steps, np.inf)
    x, polarisation_volts, lead_ohms = np.zeros(steps), np.zeros(steps), np.zeros(steps)
    for step in range(steps):
        while waiting and (waiting[-1].at_s or 0.0) <= step * DT_S:
            volts, is_on = _do(waiting.pop(), cell, volts, is_on)
        above = volts - limit_amps * cell.lead_ohms - cell.polarisation_volts
        if is_on and above > 0.0:
            limit_x[step] = math.log(limit_amps / above)
        # The cell begins in full contact; from the first step on it stands at the hand's mean.
        x[step] = math.log(cell.siemens / (contact if step else 1.0))
        polarisation_volts[step], lead_ohms[step] = cell.polarisation_volts, cell.lead_ohms
        amps = cell.amps_at(volts) if is_on else 0.0
        cell.step(volts if is_on else 0.0, min(amps, limit_amps), 0.0, contact)
    plate = scene.supply
    in_a_row = 1 if plate.at_limit == "holds" else 1 + round(plate.delay_s / DT_S)
    return Course(x, limit_x, polarisation_volts, lead_ohms, in_a_row)


@lru_cache(maxsize=8)
def noise_futures(memory_s: float) -> Floats:
    """Futures of a unit AR(1) that stands at nothing now: one row each."""
    steps = round(FURTHEST_S / DT_S)
    keep = math.exp(-DT_S / memory_s)
    kicks = np.random.default_rng(1).standard_normal((steps, FUTURES)) * math.sqrt(1 - keep * keep)
    value = np.zeros(FUTURES)
    paths = np.empty((steps, FUTURES))
    for step in range(steps):
        value = keep * value + kicks[step]
        paths[step] = value
    return np.ascontiguousarray(paths.T)


def fading(memory_s: float) -> Floats:
    """What is left of where the slow noise stands now, step by step."""
    left: Floats = np.exp(-DT_S / memory_s * np.arange(1, round(FURTHEST_S / DT_S) + 1))
    return left


def contact(scene: Scene) -> Floats | None:
    """ln of a hand's contact, a long stretch of it; None without a swab."""
    if scene.swab is None:
        return None
    strokes = Strokes(scene.swab, STROKES_DT_S, random.Random("oracle"))
    per_step = round(DT_S / STROKES_DT_S)
    values = [strokes.step() for _ in range(round(STROKES_S / STROKES_DT_S))][::per_step]
    return np.log(np.maximum(values, 1e-6))


def with_contact(excess: Floats, hand: Floats | None, begin: int) -> Floats:
    """The futures with a hand's strokes on them, drawn anew for each."""
    if hand is None:
        return excess
    starts = np.random.default_rng(begin).integers(0, len(hand), len(excess))
    places = starts[:, None] + np.arange(excess.shape[1])[None, :]
    return excess + np.take(hand, places, mode="wrap")


def first_passages(excess: Floats, needed: Floats, in_a_row: int) -> Steps:
    """The step at which each future has stood so long over what is needed; else their length."""
    over = excess > needed
    for _ in range(in_a_row - 1):
        over = over[:, 1:] & over[:, :-1]
    first = np.argmax(over, axis=1) + in_a_row - 1
    passed: Steps = np.where(over.any(axis=1), first, excess.shape[1])
    return passed


def _mean_contact(scene: Scene) -> float:
    swab = scene.swab
    if swab is None:
        return 1.0
    on = swab.lift_every_s / (swab.lift_every_s + swab.lift_s)
    return on * (swab.least_contact + (1.0 - swab.least_contact) * 2.0 / 3.0)


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
