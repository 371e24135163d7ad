"""How warm conductors, swab and bath are, once a second, and when each is too warm."""

import math
from collections import deque

from monitor.analysis.thermal_image import ThermalImage
from monitor.model.estimate import NOT_WATCHED, Heat
from monitor.model.fittings import Fittings

EVERY_S = 1.0
LONGEST_STEP_S = 10.0
"""The amps of a silence longer than this are not known; the image cools no faster for it."""
CELSIUS_EVERY_S = 10.0
CELSIUS_KEPT = 13
"""The bath's warming is read off two minutes."""
NEARLY = 0.9
NEARLY_S = 120.0
"""A conductor at so much of its heat counts as one that has no longer than this to go."""
LEAST_WARMING = 0.05 / 60.0
"""Kelvin per second under which no time to a limit is given: the probe's own step decides there."""


class HeatWatch:
    """The thermal images of the named conductors, the bath's way to its limit, the density.

    Parameters
    ----------
    fittings
        What is watched.

    Examples
    --------
    A sleeve for 8 A with a time constant of 60 s, from cold at 10 A:

    >>> from monitor.model.fittings import Conductor, Job
    >>> watch = HeatWatch(Fittings((Conductor("sleeve", 8.0, 60.0),), job=Job(area_dm2=2.0)))
    >>> for second in range(32):
    ...     watch.update(float(second), 10.0, None)
    >>> heat = watch.heat
    >>> heat.hottest, round(heat.share, 2), round(heat.in_s), heat.amps_per_dm2
    ('sleeve', 0.63, 30, 5.0)
    """

    __slots__ = (
        "_amps_squared_s",
        "_celsius",
        "_celsius_s",
        "_done_s",
        "_fittings",
        "_images",
        "_is_idle",
        "_last_s",
        "heat",
    )

    def __init__(self, fittings: Fittings) -> None:
        self._fittings = fittings
        self._images = [
            (
                conductor.name,
                ThermalImage(conductor.rated_amps, conductor.time_constant_s, conductor.k),
            )
            for conductor in fittings.heated
        ]
        self._is_idle = self._watches_nothing()
        self._celsius: deque[tuple[float, float]] = deque(maxlen=CELSIUS_KEPT)
        self._celsius_s: float | None = None
        self._amps_squared_s = 0.0
        self._last_s: float | None = None
        self._done_s = 0.0
        self.heat = NOT_WATCHED

    def refit(self, fittings: Fittings) -> None:
        """Go on with another work or limit; the conductors, and how warm they are, stay."""
        self._fittings = fittings
        self._is_idle = self._watches_nothing()

    def _watches_nothing(self) -> bool:
        job, most = self._fittings.job, self._fittings.most_celsius
        return not self._images and job.area_dm2 is None and most is None

    def update(self, t_s: float, amps: float, celsius: float | None) -> None:
        """Take one sample."""
        if self._is_idle:
            return
        if self._last_s is None:
            self._last_s = self._done_s = t_s
            return
        step_s = t_s - self._last_s
        self._last_s = t_s
        if step_s > LONGEST_STEP_S:
            # Nobody knows the amps meanwhile: the images stand where they stood.
            self._done_s += step_s - LONGEST_STEP_S
            step_s = LONGEST_STEP_S
        self._amps_squared_s += amps * amps * step_s
        if t_s - self._done_s >= EVERY_S:
            self._reckon(t_s, amps, celsius)

    def _reckon(self, t_s: float, amps: float, celsius: float | None) -> None:
        seconds = t_s - self._done_s
        mean_square = self._amps_squared_s / seconds
        self._done_s, self._amps_squared_s = t_s, 0.0
        hottest: tuple[float, str, float | None] | None = None
        most_urgent = (math.inf, 0.0)
        steady = mean_square**0.5
        for name, image in self._images:
            image.update(seconds, mean_square)
            in_s = image.operates_in_s(steady)
            # One that stands just under its heat for good comes before one that has long to go.
            soon_s = NEARLY_S if image.theta >= NEARLY else math.inf
            urgency = (min(soon_s, math.inf if in_s is None else in_s), -image.theta)
            if hottest is None or urgency < most_urgent:
                hottest, most_urgent = (image.theta, name, in_s), urgency
        area_dm2 = self._fittings.job.area_dm2
        self.heat = Heat(
            None if hottest is None else hottest[1],
            None if hottest is None else hottest[0],
            None if hottest is None else hottest[2],
            self._bath_in_s(t_s, celsius),
            None if area_dm2 is None else steady / area_dm2,
        )

    def _bath_in_s(self, t_s: float, celsius: float | None) -> float | None:
        """Seconds until the bath is at its limit if it goes on warming as in these two minutes."""
        most = self._fittings.most_celsius
        if most is None or celsius is None:
            self._celsius.clear()
            return None
        if self._celsius_s is None or t_s - self._celsius_s >= CELSIUS_EVERY_S:
            self._celsius_s = t_s
            self._celsius.append((t_s, celsius))
        if celsius >= most:
            return 0.0
        if len(self._celsius) < 4:
            return None
        half = len(self._celsius) // 2
        kept = list(self._celsius)
        early, late = kept[:half], kept[-half:]
        seconds = (sum(t for t, _ in late) - sum(t for t, _ in early)) / half
        rate = (sum(c for _, c in late) - sum(c for _, c in early)) / half / seconds
        return (most - celsius) / rate if rate >= LEAST_WARMING else None
