"""The amps shortly after switching on, against what this job draws: by like jobs, else by area."""

from collections import deque
from collections.abc import Sequence
from typing import NamedTuple

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.model.card import Way
from monitor.model.event import Prompt, PromptName
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings
from monitor.model.sample import Gap, Sample
from monitor.model.usual_amps import UsualAmps
from monitor.text.prompts import amps_unexpected, volts_unexpected
from monitor.watch.seen import Seen

STEADY_S = 3.0
STEADY_READINGS = 3
STEADY_SHARE = 0.04
"""Amps and volts that stay this close to their mean stand; gas alone moves them by 1 %."""
WITHIN_S = 60.0
"""Later than this after switching on it is no longer the start."""
FAR_VOLTS = 1.25
"""So many times the highest volts of like jobs, above the intercept, are asked about. Lower ones
are not: the plan asks for them."""
SHOWN_S = 10.0
"""So long the state line says that the amps are as expected."""


class _Reading(NamedTuple):
    t_s: float
    volts: float
    amps: float


class SwitchOn:
    """Asks once each time that the output was switched on.

    Parameters
    ----------
    fittings
        Name the area of the work, and the step's window of current density.
    usual
        What like jobs drew; None without any.
    per_kelvin
        Rise of the bath's conductance per kelvin, referred to 25 C.
    """

    def __init__(
        self,
        fittings: Fittings,
        usual: UsualAmps | None = None,
        per_kelvin: float = CAUSTIC_PER_KELVIN,
    ) -> None:
        self.usual = usual
        self._per_kelvin = per_kelvin
        self._fittings = fittings
        self._began_s: float | None = None
        self._is_judged = False
        self._fits_until_s = 0.0
        self._last: deque[_Reading] = deque()
        self.findings: tuple[Finding, ...] = ()

    def refit(self, fittings: Fittings, way: Way | None) -> None:
        """Go on with the work and the step of another card."""
        self._fittings = fittings

    def fits(self, t_s: float) -> bool:
        """Whether the amps have just been found as expected."""
        return t_s < self._fits_until_s

    def update(self, seen: Seen) -> Sequence[Prompt]:
        """Take the next row."""
        if seen.is_off:
            self._began_s, self._is_judged = None, False
            return ()
        if self._is_judged or not seen.flows or seen.amps is None or seen.volts is None:
            return ()
        if self._began_s is None:
            self._began_s = seen.t_s
            self._last.clear()
        self._is_judged = seen.is_swab or seen.t_s - self._began_s > WITHIN_S
        self._last.append(_Reading(seen.t_s, seen.volts, seen.amps))
        if self._is_judged or not self._is_steady():
            return ()
        return self._judge(seen)

    def _is_steady(self) -> bool:
        last = self._last
        while len(last) > STEADY_READINGS and last[-1].t_s - last[1].t_s >= STEADY_S:
            last.popleft()
        if len(last) < STEADY_READINGS or last[-1].t_s - last[0].t_s < STEADY_S:
            return False
        return _stand([reading.amps for reading in last]) and _stand(
            [reading.volts for reading in last]
        )

    def _judge(self, seen: Seen) -> Sequence[Prompt]:
        count = len(self._last)
        amps = sum(reading.amps for reading in self._last) / count
        volts = sum(reading.volts for reading in self._last) / count
        self._is_judged = True
        intercept = seen.estimate.polarisation_volts
        expected = self._expected(volts, seen.row, intercept)
        if expected is None:
            return ()
        low, middle, high = expected
        usual_volts = None if self.usual is None else self.usual.volts
        if not low <= amps <= high:
            brought = usual_volts is not None and intercept is not None
            words = amps_unexpected(low, middle, high, amps, volts_count=not brought)
        elif usual_volts is not None and self._are_far(volts, intercept):
            words = volts_unexpected(usual_volts, volts, amps)
        else:
            self._fits_until_s = seen.t_s + SHOWN_S
            return ()
        return [Prompt(PromptName.AMPS_UNEXPECTED, seen.row.seq, seen.row.t_ns, words)]

    def _are_far(self, volts: float, intercept: float | None) -> bool:
        most = None if self.usual is None else self.usual.most_volts
        if most is None or intercept is None or most <= intercept:
            return False
        return volts - intercept > FAR_VOLTS * (most - intercept)

    def _expected(
        self, volts: float, row: Sample | Gap, intercept: float | None
    ) -> tuple[float, float | None, float] | None:
        usual = self.usual
        if usual is not None:
            share = 1.0
            if usual.volts is not None and intercept is not None and usual.volts > intercept:
                share = max(volts - intercept, 0.0) / (usual.volts - intercept)
            celsius = row.celsius if isinstance(row, Sample) else None
            if usual.celsius is not None:
                if celsius is None:
                    return None  # a narrow band without the temperature that it stands for
                warmer = 1.0 + self._per_kelvin * (celsius - 25.0)
                share *= warmer / (1.0 + self._per_kelvin * (usual.celsius - 25.0))
            return usual.low * share, usual.middle * share, usual.high * share
        area, density = self._fittings.job.area_dm2, self._fittings.step.amps_per_dm2
        if area is None or density is None:
            return None
        return density[0] * area, None, density[1] * area


def _stand(values: list[float]) -> bool:
    mean = sum(values) / len(values)
    return max(abs(value - mean) for value in values) <= STEADY_SHARE * abs(mean)
