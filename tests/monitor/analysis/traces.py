"""Made-up runs with known answers: a conductance told as a function, noise on top, one supply.

Nothing here knows the estimators; the cell is `I = G (V - E0)` and nothing else.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random

from drivers.reading import Mode
from monitor.model.sample import Gap, Quality, Sample

E0_VOLTS = 2.0
Course = Callable[[float], float]


@dataclass(frozen=True)
class Made:
    """A run to be made.

    Parameters
    ----------
    course
        ln of the conductance over its start, at t seconds.
    seconds, poll_s, seed
        How long, how often, which day.
    start_amps
        Amps at the start, at `volts`.
    volts
        Set volts at t seconds.
    wander, memory_s
        Slow noise: standard deviation of ln(conductance), and correlation time.
    white
        Relative noise of one reading of the amps.
    grain_amps
        Resolution of the ammeter.
    silent
        Stretches (from, to) in which no poll is answered.
    lifted
        Whether the swab is off at t seconds.
    limit_amps
        Where the supply cuts out, at once.
    """

    course: Course
    seconds: float
    poll_s: float = 0.5
    seed: int = 1
    start_amps: float = 20.0
    volts: Course = field(default=lambda t_s: 9.0)
    wander: float = 0.0
    memory_s: float = 30.0
    white: float = 0.0
    grain_amps: float = 0.0
    silent: tuple[tuple[float, float], ...] = ()
    lifted: Callable[[float], bool] = field(default=lambda t_s: False)
    limit_amps: float = math.inf

    def rows(self) -> Iterator[Sample | Gap]:
        """The run's rows, up to the last one before the cut-out."""
        draw = Random(f"{self.seed}")
        keep = math.exp(-self.poll_s / self.memory_s)
        kick = self.wander * math.sqrt(1.0 - keep * keep)
        slow = self.wander * draw.gauss(0.0, 1.0)
        siemens = self.start_amps / (self.volts(0.0) - E0_VOLTS)
        for seq in range(int(self.seconds / self.poll_s) + 1):
            t_s = seq * self.poll_s
            slow = keep * slow + kick * draw.gauss(0.0, 1.0)
            volts = self.volts(t_s)
            amps = siemens * math.exp(self.course(t_s) + slow) * max(volts - E0_VOLTS, 0.0)
            if self.lifted(t_s):
                amps = 0.0
            if amps > self.limit_amps:
                return
            amps *= 1.0 + self.white * draw.gauss(0.0, 1.0)
            if self.grain_amps:
                amps = round(amps / self.grain_amps) * self.grain_amps
            if any(low <= t_s < high for low, high in self.silent):
                yield gap(seq, t_s)
            else:
                yield sample(seq, t_s, volts, amps)


def sample(
    seq: int,
    t_s: float,
    volts: float | None,
    amps: float | None,
    celsius: float | None = None,
    mode: Mode = Mode.UNKNOWN,
    quality: Quality = Quality.GOOD,
) -> Sample:
    """One answered poll of a run that began at UTC second 1.7e9."""
    t_ns = round(t_s * 1e9)
    return Sample(
        seq, t_ns, 1_700_000_000 * 10**9 + t_ns, 5000, volts, amps, celsius, mode, quality
    )


def gap(seq: int, t_s: float) -> Gap:
    """One poll without an answer."""
    t_ns = round(t_s * 1e9)
    return Gap(seq, t_ns, 1_700_000_000 * 10**9 + t_ns, "no answer")


def flat(t_s: float) -> float:
    """A bath that stays as it is."""
    return 0.0


def rising(per_minute: float, after_s: float = 0.0) -> Course:
    """A steady relative rise."""
    return lambda t_s: per_minute / 60.0 * max(t_s - after_s, 0.0)


def settling(rise: float, time_s: float) -> Course:
    """A rise that comes to rest, such as a bath that warms to its balance."""
    return lambda t_s: math.log1p(rise * (1.0 - math.exp(-t_s / time_s)))


def finishing(at_s: float, fall: float, over_s: float, then_per_minute: float) -> Course:
    """A finished strip: a fall within `over_s`, then a slow climb."""

    def course(t_s: float) -> float:
        fallen = min(max((t_s - at_s) / over_s, 0.0), 1.0)
        return math.log1p(-fall) * fallen + then_per_minute / 60.0 * max(t_s - at_s - over_s, 0.0)

    return course
