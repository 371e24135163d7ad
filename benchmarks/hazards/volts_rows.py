"""Rows V1 to V5, and ramps by hand: volts that are not as they should be, or only seem so."""

from benchmarks.hazards import names
from benchmarks.hazards.bench import Bench
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.names import (
    AMPS_JUMPED,
    CURRENT_LIMITED,
    MARGIN_SMALL,
    REVERSED,
    SHORT,
    TRIP_EXPECTED,
    TRIPPED,
    VOLTS_HIGH,
    VOLTS_LOW,
)
from benchmarks.hazards.played import Played
from benchmarks.hazards.row import Must, MustNot, Row
from benchmarks.hazards.supply import AtLimit

WINDOW = (VOLTS_LOW,)
UPPER_VOLTS = 12.0


def leads_exchanged(draw: Draw) -> Played:
    """Leads exchanged, or the meter wired the wrong way: one sign or both are negative."""
    bench = Bench(draw)
    bench.meter.sign_volts, bench.meter.sign_amps = draw.random.choice(
        ((-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0))
    )
    bench.run(3.0)
    bench.switch(True)
    while bench.supply.amps < 0.05 * draw.limit_amps:
        bench.run(0.02)
    bench.mark()
    bench.run(30.0)
    bench.mark("end")
    return bench.end()


def volts_above(draw: Draw) -> Played:
    """The knob is turned far over the window's upper end."""
    return _turned_up(draw, draw.between(13.0, 17.5))


def volts_far_above(draw: Draw) -> Played:
    """The knob is turned to one and a half times the upper end and more."""
    return _turned_up(draw, draw.between(18.5, 24.0))


def _turned_up(draw: Draw, volts: float) -> Played:
    times = (volts - draw.e0_volts) / (draw.volts - draw.e0_volts)
    draw.take_share(0.6 / times, 0.8 / times)
    bench = Bench(draw)
    bench.strip()
    bench.ramp(draw.between(0.1, 2.0), volts)
    bench.mark()
    bench.run(30.0)
    return bench.end()


def turned_down_after_warning(draw: Draw) -> Played:
    """The amps rise to the limit; the operator turns down, and the volts stand under the window."""
    draw.poll_at_most(5.0)
    draw.take_share(0.6, 0.75)
    draw.volts = round(draw.between(6.2, 7.5), 1)
    draw.warm_per_hour = 0.0
    bench = Bench(draw)
    bench.strip(draw.between(60.0, 100.0))
    bench.mark("rise")
    cell, start, per_s = bench.cell, bench.t_s, draw.between(0.05, 0.12) / 60.0

    def grow(_: float) -> None:
        cell.growth = 1.0 + per_s * (bench.t_s - start)

    while bench.supply.amps < 0.975 * draw.limit_amps:
        bench.run(0.25, grow)
    bench.run(12.0)
    bench.ramp(draw.between(0.5, 4.0), draw.between(4.6, 5.6))
    bench.mark()
    bench.run(90.0)
    return bench.end()


def supply_pulls_volts_down(draw: Draw) -> Played:
    """The supply holds its current, as the settings say, and the volts sink under the window."""
    draw.poll_at_most(5.0)
    draw.take_share(0.85, 0.92)
    draw.volts = round(draw.between(6.2, 6.6), 1)
    bench = Bench(draw, AtLimit.HOLDS)
    bench.strip(draw.between(40.0, 80.0))
    cell, start, per_s = bench.cell, bench.t_s, draw.between(0.15, 0.4) / 60.0

    def grow(_: float) -> None:
        cell.growth = 1.0 + per_s * (bench.t_s - start)

    while not bench.supply.is_holding:
        bench.run(0.25, grow)
    bench.mark()
    bench.run(120.0, grow)
    return bench.end()


def volts_low_from_the_start(draw: Draw) -> Played:
    """The operator strips at too few volts; no warning came before, nothing limits."""
    draw.volts = round(draw.between(4.2, 5.5), 1)
    bench = Bench(draw)
    bench.run(3.0)
    bench.switch(True)
    bench.run(draw.soft_start_s)
    bench.mark()
    bench.run(60.0)
    return bench.end()


def knob_bumped(draw: Draw) -> Played:
    """An elbow turns the knob; nothing asked for more volts."""
    draw.volts = round(draw.between(6.0, 6.8), 1)
    return _bumped(draw, draw.between(0.55, 0.85))


def knob_bumped_near_limit(draw: Draw) -> Played:
    """The same, and the amps stand at 96 to 98.5 % of the limit."""
    draw.volts = round(draw.between(6.0, 6.8), 1)
    return _bumped(draw, draw.between(0.965, 0.98))


def _bumped(draw: Draw, reached: float) -> Played:
    volts = draw.between(10.0, 11.8)
    times = (volts - draw.e0_volts) / (draw.volts - draw.e0_volts)
    draw.amps = reached * draw.limit_amps / times
    draw.warm_per_hour = 0.0
    draw.bubble_share = min(draw.bubble_share, 0.003)
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.supply.knob_volts = volts
    bench.stir()
    bench.run(0.3)
    # Tafel's lines and the leads take more at higher amps: set the volts by the amps wanted.
    while bench.supply.amps < reached * draw.limit_amps and bench.supply.knob_volts < 12.0:
        bench.supply.knob_volts += 0.02
        bench.run(0.02)
    bench.run(30.0)
    return bench.end()


def soft_start(draw: Draw) -> Played:
    """Nothing wrong: switched on by a soft start, or turned up by hand, at any speed."""
    bench = Bench(draw)
    bench.mark()
    bench.run(3.0)
    if draw.random.random() < 0.5:
        bench.switch(True)
    else:
        final = draw.volts
        bench.supply.knob_volts = draw.between(0.0, 1.0)
        bench.switch(True)
        bench.run(draw.between(0.5, 10.0))
        bench.ramp(draw.random.choice((0.3, 1.0, 3.0, 10.0, 30.0)), final)
    bench.run(120.0)
    return bench.end()


def from_near_the_intercept(draw: Draw) -> Played:
    """Nothing wrong: held five seconds just over the intercept, then turned up to 9 V."""
    draw.volts = 9.0
    draw.take_share(0.5, 0.85)
    bench = Bench(draw)
    bench.mark()
    bench.supply.knob_volts = draw.e0_volts + 0.2
    bench.run(3.0)
    bench.switch(True)
    bench.run(draw.soft_start_s + 5.0)
    bench.ramp(draw.random.choice((0.1, 0.5, 2.0, 8.0)), 9.0)
    bench.run(90.0)
    return bench.end()


NO_WINDOW = MustNot(WINDOW)
QUIET = (
    MustNot(
        (
            *WINDOW,
            SHORT,
            AMPS_JUMPED,
            TRIPPED,
            TRIP_EXPECTED,
            CURRENT_LIMITED,
            VOLTS_HIGH,
            MARGIN_SMALL,
            names.WAS_THAT_YOU,
            names.LOOK,
            names.RESISTANCE_JUMPED,
            "connection-resistance",
            "strip-looks-finished",
        )
    ),
)

VOLTS_ROWS = (
    Row(
        "V1",
        "leads exchanged, or the meter wired the wrong way",
        leads_exchanged,
        (
            Must(
                (REVERSED,),
                2.0,
                within_samples=1.0,
                not_before_s=-4.0,
                priority="high",
                action="Output OFF.",
            ),
        ),
        (MustNot(("OFF",), delay_s=3.0, until="end"), MustNot((TRIPPED, SHORT))),
        quiet_before=False,
    ),
    Row(
        "V2",
        "volts above the window",
        volts_above,
        (
            Must(
                (VOLTS_HIGH,),
                3.0,
                within_samples=1.0,
                not_before_s=-2.0,
                priority="medium",
                action="Turn down to",
                says=r"Turn down to \d",
            ),
        ),
        (MustNot((SHORT, AMPS_JUMPED, TRIPPED)), MustNot(WINDOW)),
        quiet_before=False,
    ),
    Row(
        "V2h",
        "volts at 1.5 times the window's upper end and more",
        volts_far_above,
        (
            Must(
                (VOLTS_HIGH,),
                3.0,
                within_samples=1.0,
                not_before_s=-2.0,
                priority="high",
                action="Turn down to",
                says=r"Turn down to \d",
            ),
        ),
        (MustNot((SHORT, AMPS_JUMPED, TRIPPED)), MustNot(WINDOW)),
        quiet_before=False,
    ),
    Row(
        "V3",
        "volts under the window, turned down after a warning",
        turned_down_after_warning,
        (Must((TRIP_EXPECTED, MARGIN_SMALL), 1000.0, after="rise"),),
        (NO_WINDOW, MustNot(says="back into the window|volts back"), MustNot((TRIPPED,))),
        quiet_before=False,
    ),
    Row(
        "V3c",
        "volts under the window, the supply holds its current",
        supply_pulls_volts_down,
        (Must((CURRENT_LIMITED,), 15.0, within_samples=1.0),),
        (NO_WINDOW, MustNot(says="back into the window|volts back")),
        quiet_before=False,
    ),
    Row(
        "V3l",
        "volts under the window from the start",
        volts_low_from_the_start,
        (Must(WINDOW, 30.0, within_samples=1.0),),
        (MustNot(WINDOW, priority="medium"), MustNot((SHORT, TRIPPED))),
    ),
    Row(
        "V4",
        "knob bumped, volts jump by half and more",
        knob_bumped,
        (
            Must(
                (names.WAS_THAT_YOU,),
                5.0,
                "prompt",
                within_samples=1.0,
                says=r"from \d.* to \d.*was that you",
            ),
        ),
        (MustNot((SHORT, AMPS_JUMPED, TRIPPED)),),
    ),
    Row(
        "V4m",
        "knob bumped, amps stand over 95 % of the limit",
        knob_bumped_near_limit,
        (
            Must((names.WAS_THAT_YOU,), 5.0, "prompt", within_samples=1.0),
            Must(
                (MARGIN_SMALL,),
                15.0,
                within_samples=2.0,
                priority="medium",
                action="Turn down to",
                says=r"Turn down to \d",
            ),
        ),
        (MustNot((SHORT, AMPS_JUMPED, TRIPPED)),),
    ),
    Row("V5", "soft start, ramp by hand", soft_start, (), QUIET),
    Row(
        "V5i",
        "held just over the intercept, then turned up to 9 V",
        from_near_the_intercept,
        (),
        QUIET,
    ),
)
