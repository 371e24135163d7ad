"""The rows that a recorder would have of a scene, up to the first cut-out."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from benchmarks.forecast_draw import Drawn
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from simulators.rig import Rig
from simulators.supply import Mode

AFTERWARDS_S = 5.0
BEGAN_UTC_NS = 1_700_000_000 * 10**9
ENDS = {Mode.CUT_OUT, Mode.CONSTANT_CURRENT}


@dataclass(frozen=True)
class Run:
    """One run of the corpus.

    Parameters
    ----------
    drawn
        What was played.
    rows
        Volts and amps as a plain meter gives them, no probe, no mode; a gap for each lost poll.
        They go on for a few seconds after the trip.
    trip_s
        When the supply cut out or began to hold the amps; None where it did not.
    wander
        The true slow noise at each row, for the oracle.
    """

    drawn: Drawn
    trip_s: float | None
    rows: list[Sample | Gap] = field(default_factory=list)
    wander: list[float] = field(default_factory=list)

    @property
    def facts(self) -> RunFacts:
        """What the recorder knows of the run."""
        plate = self.drawn.scene.supply
        return RunFacts(
            supply=plate.name,
            address="",
            limit_amps=plate.limit_amps,
            limit_kind=LimitKind(plate.at_limit),
            poll_s=1.0 / self.drawn.rate_hz,
        )

    @property
    def seconds(self) -> float:
        """How long it was watched before it tripped or ended."""
        return self.rows[-1].t_s if self.trip_s is None else self.trip_s

    @property
    def is_slow(self) -> bool:
        """Whether something announced the trip."""
        return self.trip_s is not None and self.drawn.family != "short"

    def before_the_trip(self) -> Iterator[tuple[int, Sample | Gap]]:
        """The rows that a warning can still come with, and their places."""
        for place, row in enumerate(self.rows):
            if self.trip_s is not None and row.t_s >= self.trip_s:
                return
            yield place, row


def play(drawn: Drawn) -> Run:
    """Play a scene."""
    rig = Rig(drawn.scene)
    rows: list[Sample | Gap] = []
    wander: list[float] = []
    trip_s: float | None = None
    for seq in range(int(drawn.scene.duration_s * drawn.rate_hz) + 1):
        t_s = seq / drawn.rate_hz
        rig.advance_to(t_s)
        point = rig.measured()
        if trip_s is None and point.mode in ENDS:
            trip_s = t_s
        if trip_s is not None and t_s > trip_s + AFTERWARDS_S:
            break
        t_ns = round(t_s * 1e9)
        utc_ns = BEGAN_UTC_NS + t_ns
        if any(low <= t_s < high for low, high in drawn.silent):
            rows.append(Gap(seq, t_ns, utc_ns, "no answer"))
        else:
            rows.append(Sample(seq, t_ns, utc_ns, 5000, point.volts, point.amps))
        wander.append(rig.wander)
    return Run(drawn, trip_s, rows, wander)
