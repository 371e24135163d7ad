"""Rows A5 to A13: a wrong limit, a current held, and amps that fall or are unlike the job."""

import re
from collections.abc import Sequence

from benchmarks.hazards import names
from benchmarks.hazards.bench import Bench
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.names import (
    AMPS_JUMPED,
    CURRENT_LIMITED,
    LIMIT_WRONG,
    NO_CURRENT,
    SHORT,
    TRIP_EXPECTED,
    TRIPPED,
)
from benchmarks.hazards.played import Played, Settings
from benchmarks.hazards.row import Must, MustNot, Row
from benchmarks.hazards.said import Said
from benchmarks.hazards.supply import AtLimit

OFF = "Output OFF."


def limit_wrong(draw: Draw) -> Played:
    """The settings name a limit under the amps that flow."""
    settings = Settings(draw.amps / draw.between(1.15, 3.5))
    bench = Bench(draw, settings=settings)
    bench.run(3.0)
    bench.switch(True)
    while bench.supply.volts < 0.98 * draw.volts:
        bench.run(0.02)
    bench.mark()
    bench.run(90.0)
    return bench.end()


def holds_against_settings(draw: Draw) -> Played:
    """The conductance rises into the limit of a supply that holds; the settings say it trips."""
    return _held(draw, "trips", draw.limit_amps)


def holds_below_stated(draw: Draw) -> Played:
    """The supply's own current knob stands below the limit in the settings."""
    stated = draw.random.choice(("trips", "holds"))
    return _held(draw, stated, draw.limit_amps / draw.between(0.55, 0.9))


def _held(draw: Draw, stated: str, limit_amps: float) -> Played:
    draw.poll_at_most(5.0)
    draw.take_share(0.8, 0.9)
    bench = Bench(draw, AtLimit.HOLDS, Settings(limit_amps, stated))
    bench.strip(draw.between(40.0, 90.0))
    cell, per_s = bench.cell, draw.between(0.1, 0.3) / 60.0
    start = bench.t_s

    def grow(_: float) -> None:
        cell.growth = 1.0 + per_s * (bench.t_s - start)

    while not bench.supply.is_holding:
        bench.run(0.25, grow)
    bench.mark()
    bench.run(120.0, grow)
    bench.mark("end")
    return bench.end()


def restarts(draw: Draw) -> Played:
    """The bath draws more than the limit at the set volts; the supply restarts of itself."""
    draw.poll_at_most(5.0)
    draw.take_share(0.8, 0.9)
    bench = Bench(draw)
    bench.supply.protection.comes_back_s = draw.between(3.0, 8.0)
    bench.strip(draw.between(60.0, 90.0))
    cell, per_s = bench.cell, draw.between(0.06, 0.15) / 60.0
    start = bench.t_s

    def grow(_: float) -> None:
        cell.growth = 1.0 + per_s * (bench.t_s - start)

    while not bench.supply.has_cut_out:
        bench.run(0.25, grow)
    cell.growth *= 1.03
    bench.mark()
    bench.run(150.0)
    return bench.end()


def open_circuit(draw: Draw) -> Played:
    """A clip falls off; the volts stand."""
    bench = Bench(draw)
    bench.settings.way = draw.random.choice(("", "tank"))
    bench.strip()
    bench.mark()
    bench.cell.clips = [0.0]
    bench.run(60.0)
    bench.mark("end")
    return bench.end()


def swab_lifted(draw: Draw) -> Played:
    """Swab work: strokes with short lifts, then the swab is put down with the output on."""
    draw.poll_at_most(5.0)
    bench = Bench(draw)
    bench.settings.way = "swab"
    bench.run(3.0)
    bench.cell.level = 0.0
    bench.switch(True)
    bench.run(draw.between(2.0, 4.0))
    strokes(bench, draw.between(50.0, 90.0))
    bench.mark()
    bench.cell.level = 0.0
    bench.stir()
    bench.run(150.0)
    bench.mark("end")
    return bench.end()


def strokes(bench: Bench, seconds: float) -> None:
    """Swab strokes: contact of some seconds, the wetted area never quite the same, short lifts."""
    end_s = bench.t_s + seconds
    while bench.t_s < end_s:
        bench.cell.level = bench.draw.between(0.75, 1.0)
        bench.stir()
        bench.run(bench.draw.between(1.0, 5.0))
        if bench.draw.random.random() < 0.4:
            bench.cell.level = 0.0
            bench.stir()
            bench.run(bench.draw.between(0.2, 1.5))


def level_falls(draw: Draw) -> Played:
    """The level sinks (or a clip corrodes): a third and more of the amps within ten minutes."""
    draw.poll_at_most(2.0)
    draw.take_share(0.4, 0.7)
    bench = Bench(draw)
    bench.settings.way = "tank"
    bench.strip(draw.between(60.0, 120.0))
    cell, start, seconds = bench.cell, bench.t_s, draw.between(150.0, 500.0)
    lowest = draw.between(0.4, 0.55)

    def fall(_: float) -> None:
        cell.level = 1.0 - (1.0 - lowest) * min((bench.t_s - start) / seconds, 1.0)

    while cell.level > 0.72:
        bench.run(0.25, fall)
    bench.mark()
    while cell.level > 0.66:
        bench.run(0.25, fall)
    bench.mark("third")
    bench.run(120.0, fall)
    return bench.end()


def part_comes_off(draw: Draw) -> Played:
    """One of several parts drops from its clip, or is unhooked."""
    parts = draw.random.choice((2, 3, 4, 5))
    bench = Bench(draw, parts=parts)
    bench.strip()
    bench.mark()
    bench.cell.clips[0] = 0.0
    bench.run(60.0)
    return bench.end()


def unlike_the_job(draw: Draw) -> Played:
    """At switch-on the amps are far outside the step's density for the part's area."""
    low, high = 2.0, 8.0
    density = draw.random.choice((draw.between(11.0, 20.0), draw.between(0.5, 1.2)))
    settings = Settings(
        draw.limit_amps, way="tank", area_dm2=draw.amps / density, density=(low, high)
    )
    bench = Bench(draw, settings=settings)
    bench.strip(draw.soft_start_s + 1.5)
    bench.mark()
    bench.run(30.0)
    return bench.end()


def unlike_history(draw: Draw) -> Played:
    """At switch-on the amps are far from those of like jobs."""
    times = draw.random.choice((draw.between(1.4, 2.0), draw.between(0.4, 0.65)))
    usual = draw.amps / times
    settings = Settings(draw.limit_amps, way="tank", usual_amps=(0.9 * usual, usual, 1.1 * usual))
    bench = Bench(draw, settings=settings)
    bench.strip(draw.soft_start_s + 1.5)
    bench.mark()
    bench.run(30.0)
    return bench.end()


def names_held_amps(played: Played, messages: Sequence[Said]) -> list[str]:
    """The amps that the alarm names are those that the supply holds, not those of the settings."""
    held = played.draw.limit_amps
    for message in messages:
        if message.kind == "alarm" and message.name == CURRENT_LIMITED:
            amps = [float(number) for number in re.findall(r"(\d+(?:\.\d+)?) A\b", message.message)]
            if not any(abs(number - held) < 0.03 * held for number in amps):
                return [f"does not name {held:.2f} A: {message.line.strip()}"]
    return []


AMPS_ROWS = (
    Row(
        "A5",
        "amps stand 1.15 to 3.5 times over the limit in the settings",
        limit_wrong,
        (
            Must(
                (LIMIT_WRONG,),
                5.0,
                within_samples=1.0,
                not_before_s=-5.0,
                priority="medium",
                action="Check the limit in the settings.",
            ),
        ),
        (
            MustNot(says="no trip (in sight|expected)|trip in", delay_s=6.0),
            MustNot((TRIP_EXPECTED, SHORT)),
        ),
        quiet_before=False,
    ),
    Row(
        "A6",
        "supply holds its current, the settings say that it trips",
        holds_against_settings,
        (
            Must(("LIMITED",), 15.0, "state", within_samples=1.0),
            Must((names.CHECK_SETTING,), 15.0, "prompt", within_samples=1.0, says="holds"),
            Must((CURRENT_LIMITED,), 15.0, within_samples=1.0, action="Turn down"),
            Must((TRIP_EXPECTED,), 20.0, "gone"),
        ),
        (
            MustNot(says="trip in about", delay_s=17.0),
            MustNot((names.CHECK_SETTING,), at_most=1),
            MustNot((TRIPPED, SHORT)),
        ),
        quiet_before=False,
    ),
    Row(
        "A7",
        "supply's own current knob below the limit in the settings",
        holds_below_stated,
        (
            Must(("LIMITED",), 15.0, "state", within_samples=1.0, says="hold"),
            Must((CURRENT_LIMITED,), 15.0, within_samples=1.0),
            Must((TRIP_EXPECTED,), 20.0, "gone"),
        ),
        (MustNot(says="trip in about", delay_s=17.0), MustNot((TRIPPED, SHORT))),
        quiet_before=False,
        check=names_held_amps,
    ),
    Row(
        "A8",
        "supply that restarts by itself and cuts out again",
        restarts,
        (
            Must((TRIPPED,), 1.0, within_samples=2.0, priority="critical", action=OFF),
            Must((), 60.0, "", says="keeps cutting out"),
        ),
        (MustNot((TRIPPED,), at_most=1), MustNot(says="slow rise", delay_s=12.0)),
        quiet_before=False,
    ),
    Row(
        "A9",
        "clip falls off, part lifted out, lead broken",
        open_circuit,
        (Must((NO_CURRENT,), 10.0, within_samples=1.0, priority="medium", action="Output OFF"),),
        (
            MustNot(says="no trip (in sight|expected)", delay_s=12.0, until="end"),
            MustNot(("OFF", "check-wetting", TRIPPED, "strip-looks-finished")),
        ),
    ),
    Row(
        "A10",
        "swab lifted",
        swab_lifted,
        (
            Must(("SWAB OFF",), 8.0, "state", within_samples=2.0),
            Must((names.OUTPUT_STILL_ON,), 130.0, "prompt", not_before_s=110.0, within_samples=1.0),
        ),
        (MustNot((NO_CURRENT, TRIPPED, SHORT, "no-data", AMPS_JUMPED), after=""),),
    ),
    Row(
        "A11",
        "amps fall by a third and more within ten minutes, no end told",
        level_falls,
        (
            Must(
                (names.LOOK, "strip-looks-finished"),
                60.0,
                "prompt",
                after="third",
                not_before_s=-200.0,
                says=r"\d+ ?%",
            ),
        ),
        (MustNot((TRIPPED, SHORT, "connection-resistance")),),
    ),
    Row(
        "A12",
        "one of several parts comes off",
        part_comes_off,
        (
            Must(
                (names.RESISTANCE_JUMPED,),
                10.0,
                "prompt",
                within_samples=1.0,
                says="resistance jumped",
            ),
        ),
        (MustNot(("connection-resistance", TRIPPED)),),
    ),
    Row(
        "A13",
        "amps at switch-on far outside the density for the area",
        unlike_the_job,
        (
            Must(
                (names.AMPS_UNEXPECTED,),
                10.0,
                "prompt",
                within_samples=2.0,
                not_before_s=-5.0,
                says=r"expected .* measured",
            ),
        ),
        (MustNot((names.AMPS_UNEXPECTED,), at_most=1),),
        quiet_before=False,
    ),
    Row(
        "A13h",
        "amps at switch-on far from those of like jobs",
        unlike_history,
        (
            Must(
                (names.AMPS_UNEXPECTED,),
                10.0,
                "prompt",
                within_samples=2.0,
                not_before_s=-5.0,
                says=r"expected .* measured",
            ),
        ),
        quiet_before=False,
    ),
)
