"""The oracle: the forecast of somebody who knows everything but the noise to come.

The oracle knows the cell, what the operator is going to do, and where the slow noise stands now.
It plays some hundred futures: the mean course goes on as the cell's equations have it, the slow
noise goes on from where it stands, a swab's strokes are drawn anew. Nobody who only reads the
meters can do better.
"""

import numpy as np

from benchmarks.forecast_futures import (
    DT_S,
    EVERY_S,
    FURTHEST_S,
    HORIZON_S,
    RAISE_ABOVE,
    RETURN_BELOW,
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

OUT_OF_REACH_SD = 5.5


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
        circuit = scene.circuit
        mean = course(scene, run.seconds + FURTHEST_S)
        self._needed = mean.limit_x - mean.x
        self._in_a_row = mean.in_a_row
        self._sd = circuit.wander_share
        self._bank = noise_futures(circuit.wander_s)
        self._keep = fading(circuit.wander_s)
        self._hand = contact(scene)

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
        trip_s = float(np.median(self._trips(begin, steps, wander)))
        return None if trip_s >= steps else (begin + trip_s) * DT_S - t_s

    def _trips(self, begin: int, steps: int, wander: float) -> Steps:
        """The step at which each future trips; `steps` where it does not."""
        needed = self._needed[begin : begin + steps]
        steps = len(needed)
        excess = wander * self._keep[:steps] + self._sd * self._bank[:, :steps]
        return first_passages(
            with_contact(excess, self._hand, begin), needed[None, :], self._in_a_row
        )
