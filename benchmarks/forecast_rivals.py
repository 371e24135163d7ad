"""The rivals: methods that an operator could use in place of our forecast.

All but the thresholds see the mean amps of each second as a share of the limit, and warn where the
limit is nearer than two minutes; the warning returns past 200 s, so that none flickers at its own
edge. Lost polls are left out. None of them is told of the operator's volts, as no such tool would
be.

- amps over 80 %, 90 %: standing there for 1 s.
- straight line, 60 s, 300 s: least squares through the last 60 or 300 s, carried on to the limit.
  The long one takes what there is while there is less.
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
SHORT_LINE_S = 60
LONG_LINE_S = 300
LEAST_SECONDS = 10
LEAST_WINDOW_S = 30
PIECES_S = 300
PIECES_EVERY_S = 10
FURTHEST_S = 3600.0


class Rival(Protocol):
    """Another method: takes the amps of one second, answers by attributes."""

    stands: bool
    trip_in_s: float | None

    def update(self, t_s: float, share: float) -> None:
        """Take the mean amps of one second, at its middle, as a share of the limit."""


class Line:
    """What lines have in common: carry on to the limit, warn when near."""

    def __init__(self) -> None:
        self.stands = False
        self.trip_in_s: float | None = None

    def _carry_on(self, points: list[tuple[float, float]]) -> None:
        """Draw the line through times and shares, the last one now."""
        middle_s, middle = (sum(column) / len(points) for column in zip(*points, strict=True))
        spread = sum((t_s - middle_s) ** 2 for t_s, _ in points)
        slope = sum((t_s - middle_s) * (share - middle) for t_s, share in points) / spread
        now = middle + slope * (points[-1][0] - middle_s)
        self.trip_in_s = None
        if slope > 0.0 and (left_s := max(1.0 - now, 0.0) / slope) < FURTHEST_S:
            self.trip_in_s = left_s
        limit_s = RETURN_S if self.stands else WARN_S
        self.stands = self.trip_in_s is not None and self.trip_in_s < limit_s


class LastSeconds(Line):
    """The line through the last `seconds`, from `least` values on."""

    def __init__(self, seconds: int, least: int) -> None:
        super().__init__()
        self._seconds = seconds
        self._least = least
        self._points: deque[tuple[float, float]] = deque()

    def update(self, t_s: float, share: float) -> None:
        """Take one second."""
        self._points.append((t_s, share))
        while self._points[0][0] <= t_s - self._seconds:
            self._points.popleft()
        if len(self._points) >= self._least:
            self._carry_on(list(self._points))


class AdaptiveWindow(Line):
    """The line through the window that river's ADWIN keeps."""

    def __init__(self) -> None:
        super().__init__()
        self._detector = ADWIN()
        self._points: deque[tuple[float, float]] = deque(maxlen=PIECES_S)

    def update(self, t_s: float, share: float) -> None:
        """Take one second."""
        self._points.append((t_s, share))
        self._detector.update(share)
        width = max(LEAST_WINDOW_S, min(int(self._detector.width), len(self._points)))
        if len(self._points) >= LEAST_WINDOW_S:
            self._carry_on(list(self._points)[-width:])


class Pieces(Line):
    """The line through the last piece that ruptures finds."""

    def __init__(self) -> None:
        super().__init__()
        self._points: deque[tuple[float, float]] = deque(maxlen=PIECES_S)
        self._began = 0
        self._seconds = 0

    def update(self, t_s: float, share: float) -> None:
        """Take one second."""
        self._points.append((t_s, share))
        self._seconds += 1
        self._began = max(self._began - (len(self._points) == PIECES_S), 0)
        if len(self._points) < 2 * LEAST_WINDOW_S:
            return
        if self._seconds % PIECES_EVERY_S == 0:
            signal = np.asarray([share for _, share in self._points])
            noise = max(float(np.var(np.diff(signal))) / 2.0, 1e-8)
            search = ruptures.Pelt(model="clinear", min_size=LEAST_WINDOW_S, jump=10).fit(signal)
            ends = search.predict(pen=3.0 * float(np.log(len(signal))) * noise)
            self._began = ends[-2] if len(ends) > 1 else 0
        points = list(self._points)[self._began :]
        if len(points) >= LEAST_WINDOW_S:
            self._carry_on(points)


class Cumulated:
    """river's PageHinkley, upwards, while the amps are high."""

    def __init__(self) -> None:
        self.stands = False
        self.trip_in_s: float | None = None
        self._detector = PageHinkley(threshold=0.5, mode="up")

    def update(self, t_s: float, share: float) -> None:
        """Take one second."""
        self._detector.update(share)
        if share < 0.8:
            self.stands = False
        elif self._detector.drift_detected:
            self.stands = True


LONG_LINE = "straight line, 300 s"
RIVALS: dict[str, Callable[[], Rival]] = {
    "straight line, 60 s": lambda: LastSeconds(SHORT_LINE_S, LEAST_WINDOW_S),
    LONG_LINE: lambda: LastSeconds(LONG_LINE_S, LEAST_SECONDS),
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
                rival.update(second + 0.5, total / n / limit_amps)
            second, total, n = int(row.t_s), 0.0, 0
        if isinstance(row, Sample) and row.amps is not None:
            total += row.amps
            n += 1
        scoring.take(row.t_s, rival.stands, rival.trip_in_s)
    return scoring.end(run.seconds)
