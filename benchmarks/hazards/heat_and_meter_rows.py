"""Rows H1, H2, M1 and M2: heat, and meters that do not show what they should."""

from benchmarks.hazards import names
from benchmarks.hazards.bench import Bench
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.names import OVERHEATING, READINGS_FROZEN
from benchmarks.hazards.played import Played, Settings
from benchmarks.hazards.row import Must, MustNot, Row

SAMPLES = 2.0


def lead_heats(draw: Draw) -> Played:
    """More amps than the lead stands."""
    draw.poll_at_most(4.0)
    draw.warm_per_hour = 0.0
    settings = Settings(draw.limit_amps, rated_amps=draw.amps / draw.between(1.2, 1.6))
    bench = Bench(draw, settings=settings)
    bench.run(3.0)
    bench.mark()
    bench.switch(True)
    bench.run(400.0)
    return bench.end()


def no_ratings(draw: Draw) -> Played:
    """The settings say nothing of the leads."""
    bench = Bench(draw)
    bench.mark()
    bench.strip(60.0)
    return bench.end()


def gauge_given(draw: Draw) -> Played:
    """The settings give the wire gauge; its ampacity is a default."""
    bench = Bench(draw, settings=Settings(draw.limit_amps, gauge=(4.0, 2.0)))
    bench.mark()
    bench.strip(60.0)
    return bench.end()


def frozen(draw: Draw) -> Played:
    """The supply answers on, with one and the same value."""
    draw.poll_at_most(5.0)
    draw.amps_step = 0.001
    draw.volts_step = 0.001
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.meter.is_frozen = True
    bench.run(150.0)
    return bench.end()


def too_coarse(draw: Draw) -> Played:
    """A meter of 0.1 A steps at a job of an ampere or two."""
    draw.limit_amps = draw.between(3.0, 5.0)
    draw.amps = draw.between(0.7, 1.6)
    draw.amps_step = 0.1
    draw.amps_offset = draw.between(-0.05, 0.05)
    draw.volts_step = 0.1
    bench = Bench(draw)
    bench.run(3.0)
    bench.switch(True)
    bench.run(draw.soft_start_s)
    bench.mark()
    bench.run(120.0)
    return bench.end()


HEAT_AND_METER_ROWS = (
    Row(
        "H1",
        "lead heats",
        lead_heats,
        (Must((OVERHEATING,), 380.0, priority="high", action="Output OFF"),),
    ),
    Row(
        "H2",
        "no ratings in the settings",
        no_ratings,
        (Must((names.HEAT_NOT_WATCHED,), 15.0, "prompt", says="not watched.*gauge"),),
        (MustNot((names.HEAT_NOT_WATCHED,), at_most=1),),
    ),
    Row(
        "H2g",
        "wire gauge in the settings",
        gauge_given,
        (),
        (MustNot((names.HEAT_NOT_WATCHED,)),),
    ),
    Row(
        "M1",
        "supply answers with a frozen value",
        frozen,
        (
            Must(
                (READINGS_FROZEN,),
                125.0,
                within_samples=SAMPLES,
                not_before_s=100.0,
                priority="medium",
                action="Go by the supply's own meters.",
            ),
        ),
    ),
    Row(
        "M2",
        "meter too coarse for the job",
        too_coarse,
        (Must((names.METER_TOO_COARSE,), 60.0, "prompt", within_samples=1.0, says=r"\d A"),),
        (MustNot((names.METER_TOO_COARSE,), at_most=1), MustNot((READINGS_FROZEN,))),
    ),
)
