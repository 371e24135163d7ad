"""Rows A1 to A4 and A14: metal touches metal, at once or with some resistance."""

from benchmarks.hazards.bench import Bench
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.names import (
    AMPS_JUMPED,
    CURRENT_LIMITED,
    SHORT,
    TRIPPED,
    VOLTS_LOW,
)
from benchmarks.hazards.played import Played, Settings
from benchmarks.hazards.row import Must, MustNot, Row
from benchmarks.hazards.supply import AtLimit

WINDOW = (VOLTS_LOW,)
OFF = "Output OFF."


def short_at_switch_on(draw: Draw) -> Played:
    """A dead short before the output comes on; the supply holds its current on it."""
    stated = draw.random.choice(("trips", "holds"))
    bench = Bench(draw, AtLimit.HOLDS, Settings(draw.limit_amps, stated))
    bench.run(draw.between(2.0, 6.0))
    short_volts = draw.between(0.5, 2.0)
    bench.cell.lead_ohms = 0.3 * short_volts / draw.limit_amps
    bench.touch(draw.limit_amps, short_volts)
    bench.switch(True)
    half_amps = 0.5 * draw.limit_amps
    while bench.supply.amps < half_amps:
        bench.run(0.02)
    bench.mark()
    bench.run(20.0)
    return bench.end()


def short_pulls_volts_down(draw: Draw) -> Played:
    """The supply holds its current on a touch; the volts stand at 2.5 to 4 V."""
    stated = draw.random.choice(("trips", "holds"))
    bench = Bench(draw, AtLimit.HOLDS, Settings(draw.limit_amps, stated))
    is_there_before = draw.random.random() < 0.5
    if not is_there_before:
        bench.strip()
    else:
        bench.run(draw.between(2.0, 6.0))
    bench.cell.lead_ohms = min(bench.cell.lead_ohms, 0.5 / draw.limit_amps)
    bench.touch(draw.limit_amps, draw.between(2.6, 3.9))
    if is_there_before:
        bench.switch(True)
        while bench.supply.amps < 0.2 * draw.limit_amps:
            bench.run(0.02)
    bench.mark()
    bench.run(20.0)
    return bench.end()


def short_cuts_out(draw: Draw) -> Played:
    """Metal touches metal in mid-run; the supply cuts out on it."""
    draw.trip_delay_s = _seen_s(draw)
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.touch(draw.between(1.2, 1.55) * draw.limit_amps, draw.between(0.5, 2.0))
    bench.run(30.0)
    return bench.end()


def short_clears(draw: Draw) -> Played:
    """A short of some seconds on a supply that holds; then all is as it was."""
    bench = Bench(draw, AtLimit.HOLDS)
    bench.strip()
    bench.mark()
    bench.touch(draw.limit_amps, draw.between(0.5, 1.8))
    bench.run(max(draw.between(3.0, 8.0), 3.0 * draw.poll_s))
    bench.cell.touch_siemens = 0.0
    bench.stir()
    while bench.supply.is_holding:
        bench.run(0.02)
    bench.mark("clear")
    bench.run(40.0)
    return bench.end()


def _seen_s(draw: Draw) -> float:
    """A trip's delay in which at least one whole reading shows the amps."""
    slow_s = draw.meter_update_s + 4.0 * draw.meter_filter_s + 4.0 * draw.meter_skew_s
    return draw.between(1.1, 1.8) * draw.poll_s + slow_s


def touch(draw: Draw) -> Played:
    """A strand of wire bridges part and counter-electrode; the amps stay far under the limit."""
    times = draw.between(1.3, 2.0)
    draw.take_share(0.25, 0.88 / times)
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.touch(times * draw.amps)
    bench.run(30.0)
    return bench.end()


def touch_near_limit(draw: Draw) -> Played:
    """The same, and the amps come to 96 to 99 % of the limit."""
    times = draw.between(1.35, 2.0)
    reached = draw.between(0.965, 0.985)
    draw.amps = reached * draw.limit_amps / times
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.touch(times * draw.amps)
    bench.run(30.0)
    return bench.end()


def touch_cuts_out(draw: Draw) -> Played:
    """The same, and the supply cuts out after at least one reading showed the jump."""
    times = draw.between(1.4, 2.0)
    draw.amps = draw.between(1.05, 1.3) * draw.limit_amps / times
    draw.trip_delay_s = _seen_s(draw)
    bench = Bench(draw)
    bench.strip(draw.between(60.0, 150.0))
    bench.mark()
    bench.touch(times * draw.amps)
    bench.run(30.0)
    return bench.end()


def touch_cuts_out_unseen(draw: Draw) -> Played:
    """The same; the cut-out comes so soon that no reading shows the jump."""
    draw.rate_hz = min(draw.rate_hz, 2.0)
    draw.meter_update_s = 0.02
    draw.meter_filter_s = draw.meter_skew_s = 0.0
    draw.trip_delay_s = 0.06
    times = draw.between(1.4, 2.0)
    draw.amps = draw.between(1.05, 1.3) * draw.limit_amps / times
    bench = Bench(draw)
    bench.strip(draw.between(60.0, 150.0))
    polls = len(bench.played.readings)
    while len(bench.played.readings) == polls:
        bench.run(0.02)
    bench.run(0.1)
    bench.mark()
    bench.touch(times * draw.amps)
    bench.run(30.0)
    return bench.end()


def hung_in(draw: Draw) -> Played:
    """A further part is hung in while current flows."""
    parts = draw.random.choice((1, 2, 3))
    draw.take_share(0.25, 0.85 * parts / (parts + 1.0))
    bench = Bench(draw, parts=parts)
    bench.strip()
    bench.mark()
    bench.cell.clips.append(draw.between(1.0, 1.1))
    bench.run(30.0)
    return bench.end()


def touch_of_short(draw: Draw) -> Played:
    """A touch that makes the amps 2.5 times and more, with the volts as set."""
    times = draw.between(2.5, 3.2)
    draw.amps = draw.between(0.7, 0.9) * draw.limit_amps / times
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.touch(times * draw.amps)
    bench.run(8.0)
    return bench.end()


NO_SLOW_RISE = MustNot(says="slow rise")
NO_WINDOW = MustNot(WINDOW)
NOT_BACK = MustNot(says="back into the window|volts back")
JUMP = "jump|touch"

SHORT_ROWS = (
    Row(
        "A1",
        "short already there at switch-on",
        short_at_switch_on,
        (Must((SHORT,), 2.0, within_samples=1.0, priority="critical", action=OFF),),
        (NO_WINDOW, NOT_BACK),
    ),
    Row(
        "A2",
        "short, supply holds its current, volts pulled to 2.5 to 4 V",
        short_pulls_volts_down,
        (Must((SHORT, CURRENT_LIMITED), 5.0, within_samples=1.0, priority="medium", action=OFF),),
        (NO_WINDOW, NOT_BACK),
    ),
    Row(
        "A3",
        "short in mid-run that cuts out",
        short_cuts_out,
        (
            Must((SHORT,), 0.3, within_samples=2.0, priority="critical", action=OFF),
            Must((TRIPPED,), 5.0, within_samples=3.0, priority="critical", action=OFF),
        ),
        (MustNot((TRIPPED,), at_most=1), NO_SLOW_RISE, NO_WINDOW),
    ),
    Row(
        "A4",
        "short clears",
        short_clears,
        (
            Must((SHORT,), 0.5, within_samples=2.0, priority="critical", action=OFF),
            Must((SHORT,), 2.0, "returned", within_samples=1.0, after="clear"),
        ),
        (
            MustNot((CURRENT_LIMITED, *WINDOW), after="clear"),
            MustNot((TRIPPED,)),
            MustNot(says="below its current limit"),
        ),
    ),
    Row(
        "A14",
        "touch: amps jump by 1.3 to 2 times, far under the limit",
        touch,
        (Must((AMPS_JUMPED,), 0.5, within_samples=2.0, priority="medium", action=OFF),),
        (NO_SLOW_RISE, MustNot((TRIPPED, SHORT))),
    ),
    Row(
        "A14n",
        "touch: amps jump past 95 % of the limit",
        touch_near_limit,
        (Must((AMPS_JUMPED,), 0.5, within_samples=2.0, priority="high", action=OFF),),
        (NO_SLOW_RISE, MustNot((TRIPPED,))),
    ),
    Row(
        "A14c",
        "touch that cuts out, seen by a reading",
        touch_cuts_out,
        (
            Must((TRIPPED,), 5.0, within_samples=2.0, priority="critical", action=OFF),
            Must((), 8.0, "explanation", within_samples=2.0, says=JUMP),
        ),
        (NO_SLOW_RISE,),
    ),
    Row(
        "A14u",
        "touch that cuts out between two polls",
        touch_cuts_out_unseen,
        (Must(("OFF", "CUT OUT"), 5.0, "state", within_samples=3.0),),
        (NO_SLOW_RISE,),
    ),
    Row(
        "A14p",
        "part hung in under current",
        hung_in,
        (Must((AMPS_JUMPED,), 0.5, within_samples=2.0, priority="medium", action=OFF),),
        (NO_SLOW_RISE, MustNot((TRIPPED, SHORT))),
    ),
    Row(
        "A14s",
        "touch: amps jump by 2.5 times and more",
        touch_of_short,
        (Must((SHORT,), 0.5, within_samples=2.0, priority="critical", action=OFF),),
        (NO_SLOW_RISE, MustNot((TRIPPED,))),
    ),
)
