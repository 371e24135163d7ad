"""Rows T1 to T5: current that flows too long, and ends of a strip and of a day."""

from benchmarks.hazards import names
from benchmarks.hazards.amps_rows import strokes
from benchmarks.hazards.bench import Bench
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.names import NO_DATA, STILL_ON, TIME_OVER, TRIPPED
from benchmarks.hazards.played import Played, Settings
from benchmarks.hazards.row import Must, MustNot, Row

MINUTE_S = 60.0


def forgotten_in_tank(draw: Draw) -> Played:
    """A part forgotten in the tank for 27 minutes."""
    draw.poll_at_most(2.0)
    draw.take_share(0.3, 0.6)
    draw.warm_per_hour = draw.between(-0.03, 0.03)
    bench = Bench(draw)
    bench.settings.way = "tank"
    bench.mark("start")
    bench.run(3.0)
    bench.switch(True)
    bench.run(20.0 * MINUTE_S - 10.0)
    bench.mark()
    bench.run(7.0 * MINUTE_S)
    return bench.end()


def forgotten_swab(draw: Draw) -> Played:
    """Swab work for 13 minutes of current."""
    draw.poll_at_most(1.0)
    draw.take_share(0.3, 0.6)
    bench = Bench(draw)
    bench.settings.way = "swab"
    bench.mark("start")
    bench.run(3.0)
    bench.cell.level = 0.0
    bench.switch(True)
    bench.run(2.0)
    flowed_s = 0.0
    while flowed_s < 10.0 * MINUTE_S:
        before_s = len(bench.played.readings)
        strokes(bench, 10.0)
        new = bench.played.readings[before_s:]
        flows = 0.02 * draw.limit_amps
        flowed_s += draw.poll_s * sum(r.amps is not None and r.amps > flows for r in new)
    bench.mark()
    strokes(bench, 60.0)
    return bench.end()


def own_minutes(draw: Draw) -> Played:
    """The step has minutes of its own."""
    minutes = draw.between(3.0, 6.0)
    draw.poll_at_most(4.0)
    draw.warm_per_hour = draw.between(-0.03, 0.03)
    settings = Settings(draw.limit_amps, way="tank", minutes=(0.0, minutes))
    bench = Bench(draw, settings=settings)
    bench.run(3.0)
    bench.switch(True)
    bench.run(minutes * MINUTE_S - 10.0)
    bench.mark()
    bench.run(60.0)
    return bench.end()


def on_after_the_hold(draw: Draw) -> Played:
    """The operator confirms the end; the hold runs out, and the output stays on."""
    bench = Bench(draw)
    bench.strip(draw.between(120.0, 240.0))
    bench.mark()
    bench.confirm()
    bench.run(120.0)
    return bench.end()


def nobody_there(draw: Draw) -> Played:
    """The output is on for 16 minutes with nothing in the bath."""
    draw.poll_at_most(2.0)
    bench = Bench(draw)
    bench.settings.way = "tank"
    bench.cell.clips = [0.0]
    bench.run(3.0)
    bench.switch(True)
    bench.run(draw.soft_start_s)
    bench.mark()
    bench.run(16.5 * MINUTE_S)
    return bench.end()


def end_of_day(draw: Draw) -> Played:
    """The output is switched off; a minute or more later the supply's mains."""
    bench = Bench(draw)
    bench.strip(draw.between(120.0, 240.0))
    bench.mark()
    bench.switch(False)
    bench.run(draw.between(65.0, 150.0))
    bench.mark("mains off")
    bench.meter.is_dead = True
    bench.run(90.0)
    return bench.end()


def lost_under_current(draw: Draw) -> Played:
    """The supply answers no more while current was flowing."""
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.meter.is_dead = True
    bench.run(60.0)
    return bench.end()


def off_near_limit(draw: Draw) -> Played:
    """A normal switch-off with the amps near the limit; the supply does not tell its mode."""
    draw.take_share(0.91, 0.96)
    draw.bubble_share = min(draw.bubble_share, 0.003)
    draw.warm_per_hour = 0.0
    draw.trip_delay_s = 1.0
    draw.soft_start_s = draw.between(2.0, 4.0)
    draw.layer_s = draw.between(0.02, 0.15)
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.switch(False)
    bench.run(60.0)
    return bench.end()


TIME_ROWS = (
    Row(
        "T1",
        "part forgotten in the tank",
        forgotten_in_tank,
        (
            Must(
                (TIME_OVER,),
                45.0,
                priority="medium",
                action="Look at the part.",
            ),
            Must((TIME_OVER,), 370.0, not_before_s=270.0, priority="medium"),
            Must((names.TIME_LIMIT,), 30.0, "prompt", after="start", says="20 min"),
        ),
    ),
    Row(
        "T1s",
        "swab work for longer than ten minutes",
        forgotten_swab,
        (
            Must(
                (TIME_OVER,),
                40.0,
                not_before_s=-60.0,
                priority="medium",
                action="Look at the part.",
            ),
            Must((names.TIME_LIMIT,), 30.0, "prompt", after="start", says="10 min"),
        ),
        quiet_before=False,
    ),
    Row(
        "T1m",
        "current for longer than the step's own minutes",
        own_minutes,
        (
            Must(
                (TIME_OVER,),
                30.0,
                priority="medium",
                action="Look at the part.",
            ),
        ),
    ),
    Row(
        "T2",
        "hold is over, and the output stays on",
        on_after_the_hold,
        (
            Must(("hold-done",), 25.0, "prompt", within_samples=1.0, not_before_s=14.0),
            Must(
                (STILL_ON,),
                95.0,
                not_before_s=74.0,
                within_samples=1.0,
                priority="medium",
                action="Output OFF.",
            ),
        ),
    ),
    Row(
        "T3",
        "output on, nothing in the bath, nobody there",
        nobody_there,
        (
            Must(
                (STILL_ON,),
                920.0,
                not_before_s=880.0,
                priority="medium",
                action="Output OFF.",
            ),
        ),
        (MustNot(says="no trip (in sight|expected)", delay_s=30.0), MustNot((TRIPPED,))),
    ),
    Row(
        "T4",
        "end of the day: output off, then the supply's mains off",
        end_of_day,
        (
            Must((names.END_THE_RUN,), 230.0, "prompt", not_before_s=55.0, says="end the run"),
            Must(("NO DATA",), 30.0, "state", after="mains off"),
        ),
        (
            MustNot((NO_DATA,), priority="medium"),
            MustNot((names.END_THE_RUN,), at_most=1),
        ),
    ),
    Row(
        "T4c",
        "answers stop while current flows",
        lost_under_current,
        (Must((NO_DATA,), 6.0, within_samples=4.0, priority="critical"),),
        (MustNot((names.END_THE_RUN,)),),
    ),
    Row(
        "T5",
        "normal switch-off near the limit, mode not told",
        off_near_limit,
        (
            Must(("OFF",), 6.0, "state", within_samples=2.0),
            Must((names.OFF_OR_CUT_OUT,), 10.0, "prompt", within_samples=2.0, says="cut out"),
        ),
        (
            MustNot((TRIPPED,)),
            MustNot(says="too brief to see|restart at lower volts"),
        ),
        quiet_before=False,
    ),
)
