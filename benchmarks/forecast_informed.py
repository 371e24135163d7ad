"""The informed reader: the best forecast that a reader of the meters could give.

It knows what the oracle knows, but for three things that nobody can read off a meter and must be
learned from the samples seen: how high the bath's course lies, how steep it is, and where the slow
noise stands. It is told the cell's polarisation voltage, the leads, the shape of the course, what
the operator is going to do, and the size and memory of every noise. So what it misses by is what
the samples cannot tell, and the rest of the distance to it is the forecast's own.

A Kalman filter of three values, exact for this model: `x = a + b * course + wander + meter`, the
meter's noise white, the wander an AR(1) of known size and memory, `a` and `b` nearly unknown at the
start (Durbin & Koopman, Time Series Analysis by State Space Methods, 2nd ed. 2012, ch. 4.3). The
futures start from draws of what the filter holds possible. A swab's contact cannot be observed
through a Gaussian filter; there it takes the highest of eighteen seconds, whose mean and scatter it
is told from strokes of the same hand. So with swabs it is a good reader, not the best there can be.
"""

import math
import random
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from benchmarks.forecast_futures import (
    DT_S,
    EVERY_S,
    FURTHEST_S,
    FUTURES,
    HORIZON_S,
    RAISE_ABOVE,
    RETURN_BELOW,
    STROKES_DT_S,
    STROKES_S,
    Course,
    Floats,
    Steps,
    contact,
    course,
    fading,
    first_passages,
    noise_futures,
    with_contact,
)
from benchmarks.forecast_runs import Run
from benchmarks.score.run_score import AHEAD_S, RunScore, Scoring
from monitor.model.sample import Gap, Sample
from simulators.scene import Scene
from simulators.swab import Strokes

LEVEL_SD = 5.0
STEEPNESS_SD = 3.0
"""Of `a` and of `b`, about 1: nearly anything may be."""
SETTLED_S = 12.0
"""By then a soft start is over."""
LEAST_ABOVE_VOLTS = 0.5
LEAST_VALUES = 5
HIGHEST_S = 18.0
CONTACT = 0.7
CONTACT_SHARE = 0.6


class Value(NamedTuple):
    """What the filter observes: when, ln(conductance), the course's own there, its noise."""

    t_s: float
    x: float
    mean_x: float
    variance: float


def judge(run: Run) -> RunScore:
    """What the informed reader scores in one run."""
    scoring, reader = Scoring(run.trip_s), _Reader(run)
    stands = False
    looked = [0.0 if run.trip_s is None else run.trip_s - ahead_s for ahead_s in AHEAD_S]
    next_s = 0.0
    for _, row in run.before_the_trip():
        reader.take(row)
        asked = any(0.0 <= row.t_s - t_s < 1.0 / run.drawn.rate_hz for t_s in looked if t_s > 0.0)
        if row.t_s < next_s and not asked:
            continue
        if row.t_s >= next_s:
            next_s = row.t_s + EVERY_S
        chance = reader.chance(row.t_s)
        stands = chance > (RETURN_BELOW if stands else RAISE_ABOVE)
        scoring.take(row.t_s, stands, reader.median_s(row.t_s) if asked else None)
    return scoring.end(run.seconds)


class _Filter:
    """Level, steepness and wander, with their covariance."""

    def __init__(self, wander: float, memory_s: float) -> None:
        self._wander = wander
        self._memory_s = memory_s
        self._t_s: float | None = None
        self._state: Floats = np.array([0.0, 1.0, 0.0])
        self._spread: Floats = np.diag([LEVEL_SD**2, STEEPNESS_SD**2, wander**2])
        self.values = 0

    def at(self, t_s: float) -> tuple[Floats, Floats]:
        """What it holds possible at a later time: mean and covariance."""
        state, spread = self._state.copy(), self._spread.copy()
        if self._t_s is not None and t_s > self._t_s:
            keep = math.exp(-(t_s - self._t_s) / self._memory_s)
            state[2] *= keep
            spread[2, :] *= keep
            spread[:, 2] *= keep
            spread[2, 2] += self._wander**2 * (1.0 - keep * keep)
        return state, spread

    def update(self, value: Value) -> None:
        """Take one value; an earlier one than the last counts as one of now."""
        state, spread = self.at(value.t_s)
        self._t_s = value.t_s if self._t_s is None else max(value.t_s, self._t_s)
        seen = np.array([1.0, value.mean_x, 1.0])
        along = spread @ seen
        gain = along / (seen @ along + value.variance)
        self._state = state + gain * (value.x - seen @ state)
        self._spread = spread - np.outer(gain, along)
        self.values += 1


class _Reader:
    """Reads one run, and plays its futures from what the filter holds possible."""

    def __init__(self, run: Run) -> None:
        scene = run.drawn.scene
        circuit = scene.circuit
        self._course = course(scene, run.seconds + FURTHEST_S)
        self._filter = _Filter(circuit.wander_share, circuit.wander_s)
        self._sd = circuit.wander_share
        self._bank = noise_futures(circuit.wander_s)
        self._keep = fading(circuit.wander_s)
        self._hand = contact(scene)
        self._draws = np.random.default_rng(5).standard_normal((FUTURES, 3))
        self._meter = _Meter(scene, self._course)
        self._highest = None if scene.swab is None else _Highest(scene, run.drawn.rate_hz)

    def take(self, row: Sample | Gap) -> None:
        """Read the meters."""
        value = self._meter.read(row)
        if value is not None and self._highest is not None:
            value = self._highest.take(value)
        if value is not None:
            self._filter.update(value)

    def chance(self, t_s: float) -> float:
        """Chance of a trip within the horizon."""
        if self._filter.values < LEAST_VALUES:
            return 0.0
        steps = round(HORIZON_S / DT_S)
        return float(np.mean(self._trips(t_s, steps) < steps))

    def median_s(self, t_s: float) -> float | None:
        """Median time to the trip; None past the furthest that is played."""
        if self._filter.values < LEAST_VALUES:
            return None
        steps = round(FURTHEST_S / DT_S)
        trip_s = float(np.median(self._trips(t_s, steps)))
        return None if trip_s >= steps else (int(t_s / DT_S) + 1 + trip_s) * DT_S - t_s

    def _trips(self, t_s: float, steps: int) -> Steps:
        begin = int(t_s / DT_S) + 1
        ahead = slice(begin, begin + steps)
        state, spread = self._filter.at(t_s)
        possible = state + self._draws @ np.linalg.cholesky(spread + 1e-14 * np.eye(3)).T
        level, steep, wander = (possible[:, i : i + 1] for i in range(3))
        needed = self._course.limit_x[None, ahead] - level - steep * self._course.x[None, ahead]
        excess = wander * self._keep[None, :steps] + self._sd * self._bank[:, :steps]
        return first_passages(
            with_contact(excess, self._hand, begin), needed, self._course.in_a_row
        )


class _Meter:
    """Turns a row into a value, with the meter's own noise."""

    def __init__(self, scene: Scene, mean: Course) -> None:
        self._course = mean
        self._plate = scene.supply

    def read(self, row: Sample | Gap) -> Value | None:
        """None where the output is off, or not on for long yet, or nothing was answered."""
        if isinstance(row, Gap) or not row.amps or not row.volts or row.t_s < SETTLED_S:
            return None
        mean, plate = self._course, self._plate
        step = int(row.t_s / DT_S)
        above = row.volts - row.amps * mean.lead_ohms[step] - mean.polarisation_volts[step]
        if above < LEAST_ABOVE_VOLTS or math.isinf(mean.limit_x[step]):
            return None
        # The meter adds 0.3 steps of noise and rounds to a step, whose error has a sd of 0.29.
        grain = plate.amps_step / row.amps
        variance = plate.amps_noise**2 + (0.3 * grain) ** 2 + grain * grain / 12.0
        return Value(row.t_s, math.log(row.amps / above), float(mean.x[step]), variance)


class _Highest:
    """The highest value of each stretch, less what such highest ones of this hand lack."""

    def __init__(self, scene: Scene, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        lacks = list(_highest_of_the_hand(scene, rate_hz))
        self._mean, self._variance = float(np.mean(lacks)), float(np.var(lacks))
        self._stretch = -1
        self._values: list[Value] = []

    def take(self, value: Value) -> Value | None:
        """Take one value; the last stretch's highest once another has begun."""
        stretch = int(value.t_s / HIGHEST_S)
        done = None
        if stretch != self._stretch:
            done = self._done()
            self._stretch, self._values = stretch, []
        self._values.append(value)
        return done

    def _done(self) -> Value | None:
        values = self._values
        if len(values) < 0.5 * HIGHEST_S * self._rate_hz:
            return None
        top = max(values, key=lambda value: value.x)
        if not _is_in_contact([value.x - top.x for value in values]):
            return None
        return top._replace(x=top.x - self._mean, variance=top.variance + self._variance)


def _highest_of_the_hand(scene: Scene, rate_hz: float) -> Iterator[float]:
    """ln of the highest contact in many stretches of the same hand's strokes."""
    assert scene.swab is not None
    strokes = Strokes(scene.swab, STROKES_DT_S, random.Random("informed"))
    contacts = [strokes.step() for _ in range(round(STROKES_S / STROKES_DT_S))]
    contacts = contacts[:: max(1, round(1.0 / (rate_hz * STROKES_DT_S)))]
    many = round(HIGHEST_S * rate_hz)
    for begin in range(0, len(contacts) - many + 1, many):
        xs = [math.log(max(value, 1e-6)) for value in contacts[begin : begin + many]]
        if _is_in_contact([x - max(xs) for x in xs]):
            yield max(xs)


def _is_in_contact(under: list[float]) -> bool:
    """Whether enough of a stretch lies near its highest; else it was mostly a lift."""
    near = sum(x > math.log(CONTACT) for x in under)
    return near >= CONTACT_SHARE * len(under)
