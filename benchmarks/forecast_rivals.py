"""A run of the corpus in, what the methods that an operator could pick instead say of it, out.

All but the thresholds see the mean amps of each second as a share of the limit, and warn where the
limit is nearer than two minutes; the warning returns past 200 s, so that none flickers at its own
edge. Lost polls are left out. None of them is told of the operator's volts, as no such tool would
be.

- amps over 80 %, 90 %: standing there for 1 s.
- straight line, 60 s: least squares through the last 60 s, carried on to the limit.
- river PageHinkley: its upward alarm (its own defaults, but a threshold of 0.5, since a share never
  adds up to 50) while the amps are over 80 %.
- river ADWIN: least squares through the window that it keeps (its own defaults; at least 30 s).
- ruptures Pelt: least squares through the last piece of the last 300 s, which is cut every 10 s
  into lines that join (model "clinear", pieces of 30 s or more, penalty 3 ln(n) noise variances).
"""

from collections import deque
from collections.abc import Callable
from typing import Protocol

import numpy as np
import ruptures
from river.drift import ADWIN, PageHinkley

from benchmarks.forecast_runs import Run
from benchmarks.score.run_score import RunScore, Scoring
from monitor.model.sample import Sample

WARN_S = 120.0
RETURN_S = 200.0
LINE_S = 60
LEAST_WINDOW_S = 30
PIECES_S = 300
PIECES_EVERY_S = 10
FURTHEST_S = 3600.0


class Rival(Protocol):
    """Another method: takes the amps of one second, answers by attributes."""

    stands: bool
    trip_in_s: float | None

    def update(self, share: float) -> None:
        """Take the mean amps of one second as a share of the limit."""


class Line:
    """What lines have in common: carry on to the limit, warn when near."""

    def __init__(self) -> None:
        self.stands = False
        self.trip_in_s: float | None = None

    def _carry_on(self, values: list[float]) -> None:
        """Draw the line through `values`, one a second, the last one now."""
        n = len(values)
        middle = 0.5 * (n - 1)
        mean = sum(values) / n
        spread = n * (n * n - 1) / 12.0
        slope = sum((i - middle) * value for i, value in enumerate(values)) / spread
        now = mean + slope * middle
        self.trip_in_s = None
        if slope > 0.0 and (left_s := max(1.0 - now, 0.0) / slope) < FURTHEST_S:
            self.trip_in_s = left_s
        limit_s = RETURN_S if self.stands else WARN_S
        self.stands = self.trip_in_s is not None and self.trip_in_s < limit_s


class LastMinute(Line):
    """The line through the last 60 s."""

    def __init__(self) -> None:
        super().__init__()
        self._values: deque[float] = deque(maxlen=LINE_S)

    def update(self, share: float) -> None:
        """Take one second."""
        self._values.append(share)
        if len(self._values) == LINE_S:
            self._carry_on(list(self._values))


class AdaptiveWindow(Line):
    """The line through the window that river's ADWIN keeps."""

    def __init__(self) -> None:
        super().__init__()
        self._detector = ADWIN()
        self._values: deque[float] = deque(maxlen=PIECES_S)

    def update(self, share: float) -> None:
        """Take one second."""
        self._values.append(share)
        self._detector.update(share)
        width = max(LEAST_WINDOW_S, min(int(self._detector.width), len(self._values)))
        if len(self._values) >= LEAST_WINDOW_S:
            self._carry_on(list(self._values)[-width:])


class Pieces(Line):
    """The line through the last piece that ruptures finds."""

    def __init__(self) -> None:
        super().__init__()
        self._values: deque[float] = deque(maxlen=PIECES_S)
        self._began = 0
        self._seconds = 0

    def update(self, share: float) -> None:
        """Take one second."""
        self._values.append(share)
        self._seconds += 1
        self._began = max(self._began - (len(self._values) == PIECES_S), 0)
        if len(self._values) < 2 * LEAST_WINDOW_S:
            return
        if self._seconds % PIECES_EVERY_S == 0:
            signal = np.asarray(self._values)
            noise = max(float(np.var(np.diff(signal))) / 2.0, 1e-8)
            search = ruptures.Pelt(model="clinear", min_size=LEAST_WINDOW_S, jump=10).fit(signal)
            ends = search.predict(pen=3.0 * float(np.log(len(signal))) * noise)
            self._began = ends[-2] if len(ends) > 1 else 0
        values = list(self._values)[self._began :]
        if len(values) >= LEAST_WINDOW_S:
            self._carry_on(values)


class Cumulated:
    """river's PageHinkley, upwards, while the amps are high."""

    def __init__(self) -> None:
        self.stands = False
        self.trip_in_s: float | None = None
        self._detector = PageHinkley(threshold=0.5, mode="up")

    def update(self, share: float) -> None:
        """Take one second."""
        self._detector.update(share)
        if share < 0.8:
            self.stands = False
        elif self._detector.drift_detected:
            self.stands = True


RIVALS: dict[str, Callable[[], Rival]] = {
    "straight line, 60 s": LastMinute,
    "river PageHinkley": Cumulated,
    "river ADWIN, line": AdaptiveWindow,
    "ruptures Pelt, line": Pieces,
}
THRESHOLDS = {"amps over 80 %": 0.8, "amps over 90 %": 0.9}


def judge_threshold(run: Run, share: float) -> RunScore:
    """What a threshold scores: it warns once the amps stood over it for a second."""
    scoring = Scoring(run.trip_s)
    over_s: float | None = None
    most = share * run.facts.limit_amps
    for _, row in run.before_the_trip():
        if isinstance(row, Sample) and row.amps is not None:
            if row.amps <= most:
                over_s = None
            elif over_s is None:
                over_s = row.t_s
        scoring.take(row.t_s, over_s is not None and row.t_s - over_s >= 1.0)
    return scoring.end(run.seconds)


def judge_rival(run: Run, rival: Rival) -> RunScore:
    """What a rival scores."""
    scoring = Scoring(run.trip_s)
    limit_amps = run.facts.limit_amps
    second, total, n = 0, 0.0, 0
    for _, row in run.before_the_trip():
        if int(row.t_s) != second:
            if n:
                rival.update(total / n / limit_amps)
            second, total, n = int(row.t_s), 0.0, 0
        if isinstance(row, Sample) and row.amps is not None:
            total += row.amps
            n += 1
        scoring.take(row.t_s, rival.stands, rival.trip_in_s)
    return scoring.end(run.seconds)
