"""Runs for the benchmark of the finish: a known end of the strip, or none."""

import random
from dataclasses import dataclass

from benchmarks.forecast_draw import (
    GRAMS_PER_COULOMB,
    Draw,
    Drawn,
    brush_swab,
    chromed_part,
    make_scene,
)
from benchmarks.forecast_scenes import draw
from monitor.model.sample import Sample
from simulators.rig import Rig

BEGAN_UTC_NS = 1_700_000_000 * 10**9
TANK, SWAB = "strip finished", "swab finished"


@dataclass(frozen=True)
class FinishRun:
    """Rows up to a cut-out, and when the chromium began to go and was gone; None where never."""

    drawn: Drawn
    rows: list[Sample]
    bared_s: float | None
    gone_s: float | None

    @property
    def hours(self) -> float:
        """How long it was watched."""
        return self.rows[-1].t_s / 3600.0


def draw_finish(family: str, number: int) -> Drawn:
    """Draw a run; a swab's that ends is drawn here, the others are the forecast's families."""
    if family != SWAB:
        return draw(family, number)
    chance = random.Random(f"{family}/{number}")
    limit_amps = chance.choice((10.0, 16.0, 20.0))
    amps = chance.uniform(0.5, 0.85) * limit_amps
    drawn = Draw(
        family,
        number,
        random=chance,
        limit_amps=limit_amps,
        volts=chance.uniform(6.0, 10.5),
        polarisation_volts=chance.uniform(1.4, 2.3),
        celsius=20.0,
        wander=chance.uniform(0.002, 0.009),
        memory_s=chance.choice((5.0, 10.0, 20.0, 30.0)),
        rate_hz=chance.choice((1.0, 2.0, 5.0, 10.0)),
    )
    strip_s = chance.uniform(240.0, 800.0)
    part = chromed_part(drawn, amps, 0.8 * amps * 0.3 * strip_s * GRAMS_PER_COULOMB)
    swab = brush_swab(drawn)
    return make_scene(
        drawn,
        amps=amps,
        litres=2.0,
        watts_per_kelvin=3.0,
        duration_s=1.3 * strip_s + 300.0,
        part=part,
        rise_volts=chance.uniform(0.3, 0.8),
        swab=swab,
    )


def play_finish(drawn: Drawn) -> FinishRun:
    """Play a scene up to its end or its first cut-out."""
    rig, rows = Rig(drawn.scene), []
    bared_s: float | None = None
    gone_s: float | None = None
    covered_volts = drawn.scene.circuit.polarisation_volts
    for seq in range(int(drawn.scene.duration_s * drawn.rate_hz)):
        t_s = seq / drawn.rate_hz
        rig.advance_to(t_s)
        point = rig.measured()
        if point.mode.value == "cut-out":
            break
        t_ns = round(t_s * 1e9)
        rows.append(Sample(seq, t_ns, BEGAN_UTC_NS + t_ns, 5000, point.volts, point.amps))
        if bared_s is None and rig.cell.polarisation_volts > covered_volts + 1e-6:
            bared_s = t_s
        if gone_s is None and rig.cell.is_stripped:
            gone_s = t_s
    return FinishRun(drawn, rows, bared_s, gone_s)
