"""Further rows: a false short, dead stacks of cells, settings for other cells, ends that were none.

Their identifiers begin with S (short), D (dead output), C (cells), E (end) and L (lost answers).
"""

import re
from collections.abc import Sequence

from benchmarks.hazards import names
from benchmarks.hazards.bench import Bench
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.names import (
    CONNECTION_RESISTANCE,
    NO_DATA,
    SHORT,
    TRIP_EXPECTED,
    TRIPPED,
)
from benchmarks.hazards.played import Played, Settings
from benchmarks.hazards.row import Must, MustNot, Row
from benchmarks.hazards.said import Said

FINISHED = "strip-looks-finished"


def touch_that_stays(draw: Draw) -> Played:
    """A touch of 2.5 times the amps stays with the volts as set; later the amps rise to a trip."""
    draw.poll_at_most(5.0)
    draw.warm_per_hour = 0.0
    draw.amps = 0.24 * draw.limit_amps
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.touch(draw.between(2.5, 2.8) * draw.amps)
    bench.run(draw.between(60.0, 120.0))
    bench.mark("rise")
    _grow_until_limit(bench, draw.between(0.08, 0.15) / 60.0)
    bench.mark("trip")
    bench.run(5.0)
    return bench.end()


def _grow_until_limit(bench: Bench, per_s: float) -> None:
    """The solution conducts more and more, until the supply cuts out or holds."""
    cell, supply, start = bench.cell, bench.supply, bench.t_s
    base, touched = cell.growth, cell.touch_siemens

    def grow(_: float) -> None:
        cell.growth = base * (1.0 + per_s * (bench.t_s - start))
        cell.touch_siemens = touched * cell.growth / base

    while not (supply.has_cut_out or supply.is_holding) and bench.t_s < start + 3600.0:
        bench.run(0.25, grow)


def _stack(draw: Draw) -> int:
    cells = draw.random.randint(12, 36)
    draw.e0_volts = draw.between(1.5, 1.75)
    # Enough above the intercept that a solution which conducts better draws more.
    draw.volts = round(cells * (draw.e0_volts + draw.between(0.4, 0.7)), 1)
    draw.volts_step = 0.01 if draw.random.random() < 0.5 else 0.1
    draw.b_volts = draw.between(0.03, 0.06)
    draw.poll_at_most(5.0)
    # Rectifiers of stacks come up slowly: the layers' own amps must not trip them at once.
    draw.soft_start_s = max(draw.soft_start_s, 1.0)
    draw.layer_s = min(draw.layer_s, 0.1)
    return cells


def stack_dies(draw: Draw) -> Played:
    """A stack rises into the limit; the output dies, and the stack keeps volts of its own."""
    cells = _stack(draw)
    draw.take_share(0.8, 0.9)
    draw.rest_s = draw.between(12.0, 25.0)
    draw.output_decay_s = draw.between(0.05, 1.0)
    # An empty double layer takes more at first; the supply stands that.
    draw.trip_delay_s = max(draw.trip_delay_s, 2.0)
    bench = Bench(draw, settings=Settings(draw.limit_amps, cells=cells), cells=cells)
    bench.strip(draw.between(60.0, 120.0))
    _grow_until_limit(bench, draw.between(0.15, 0.3) / 60.0)
    bench.mark()
    bench.run(60.0)
    return bench.end()


def cell_dies_slowly(draw: Draw) -> Played:
    """The same with one cell that keeps its volts for long, and a slow capacitor at the output."""
    draw.poll_at_most(5.0)
    draw.take_share(0.8, 0.9)
    draw.rest_s = draw.between(40.0, 120.0)
    draw.output_decay_s = draw.between(1.0, 4.0)
    bench = Bench(draw)
    bench.strip(draw.between(60.0, 120.0))
    _grow_until_limit(bench, draw.between(0.05, 0.1) / 60.0)
    bench.mark()
    bench.run(60.0)
    return bench.end()


def stack_not_stated(draw: Draw) -> Played:
    """A stack of cells; the settings know of one. The hand steps the volts now and then."""
    cells = _stack(draw)
    draw.take_share(0.4, 0.6)
    draw.volts_step = 0.01
    bench = Bench(draw, cells=cells)
    bench.strip(60.0)
    bench.mark()
    for _ in range(6):
        bench.ramp(0.5, draw.volts * draw.between(0.93, 1.03))
        bench.run(40.0)
    return bench.end()


def stack_regulation(draw: Draw) -> Played:
    """Nothing wrong: a stack whose supply regulates to 0.2 V, some minutes between its steps."""
    cells = _stack(draw)
    draw.take_share(0.3, 0.5)
    bench = Bench(draw, settings=Settings(draw.limit_amps, cells=cells), cells=cells)
    bench.run(3.0)
    bench.mark()
    bench.switch(True)
    bench.run(60.0)
    for _ in range(6):
        bench.supply.knob_volts = draw.volts + draw.between(-0.2, 0.2)
        bench.stir()
        bench.run(draw.between(30.0, 120.0))
    return bench.end()


def clip_goes_bad(draw: Draw) -> Played:
    """The only clip corrodes at once; then the hand moves the volts about."""
    bench = Bench(draw)
    bench.strip()
    bench.mark()
    bench.cell.clips = [draw.between(0.5, 0.75)]
    bench.run(40.0)
    bench.mark("moves")
    for _ in range(3):
        bench.ramp(draw.between(1.0, 4.0), draw.volts * draw.between(0.8, 1.05))
        bench.run(10.0)
    return bench.end()


def steady_rise(draw: Draw) -> Played:
    """The bath conducts more and more, evenly; the strip is not at its end."""
    draw.poll_at_most(2.0)
    draw.take_share(0.4, 0.6)
    bench = Bench(draw)
    bench.strip(60.0)
    bench.mark()
    cell, start, per_s = bench.cell, bench.t_s, draw.between(0.01, 0.06) / 60.0
    seconds = min(900.0, 0.3 / per_s)

    def grow(_: float) -> None:
        cell.growth = 1.0 + per_s * (bench.t_s - start)

    bench.run(seconds, grow)
    return bench.end()


def end_not_confirmed(draw: Draw) -> Played:
    """The strip ends and nobody says so; the amps go on, rise again, and the supply cuts out."""
    draw.poll_at_most(5.0)
    draw.take_share(0.7, 0.85)
    draw.bubble_share = min(draw.bubble_share, 0.004)
    draw.warm_per_hour = 0.0
    draw.trip_delay_s = 1.0
    bench = Bench(draw)
    bench.settings.way = "tank"
    bench.strip(draw.between(180.0, 300.0))
    cell, start, seconds = bench.cell, bench.t_s, draw.between(20.0, 40.0)
    lowest = draw.between(0.7, 0.82)

    def fall(_: float) -> None:
        cell.growth = 1.0 - (1.0 - lowest) * min((bench.t_s - start) / seconds, 1.0)

    bench.run(seconds + draw.between(240.0, 400.0), fall)
    _grow_until_limit(bench, draw.between(0.1, 0.2) / 60.0)
    bench.mark()
    bench.run(30.0)
    return bench.end()


def one_answer_in_five_lost(draw: Draw) -> Played:
    """Nothing wrong: a poll each two seconds, and one answer in five is lost."""
    draw.poll_at_most(0.5)
    draw.missed_share = 0.2
    bench = Bench(draw)
    bench.run(3.0)
    bench.mark()
    bench.switch(True)
    bench.run(1800.0)
    return bench.end()


def watts_within_the_supply(played: Played, messages: Sequence[Said]) -> list[str]:
    """No connection turns more into heat than the supply gives."""
    most = 1.05 * played.draw.volts * 1.05 * played.draw.limit_amps
    return [
        f"more heat than the supply gives ({most:.0f} W): {message.line.strip()}"
        for message in messages
        for watts in re.findall(r"(\d+(?:\.\d+)?) W\b", message.message)
        if message.name == CONNECTION_RESISTANCE and float(watts) > most
    ]


STACK_AND_END_ROWS = (
    Row(
        "S1",
        "touch that stays with the volts as set: the short ends, a later trip is told",
        touch_that_stays,
        (
            Must((SHORT,), 0.5, within_samples=2.0, priority="critical"),
            Must((SHORT,), 15.0, "returned", within_samples=2.0),
            Must((TRIP_EXPECTED,), 3600.0, after="rise"),
        ),
    ),
    Row(
        "D1",
        "stack of cells whose output dies keeps its volts",
        stack_dies,
        (Must((TRIPPED,), 4.0, within_samples=2.0, priority="high", action="Output OFF."),),
        (MustNot((SHORT,)),),
        quiet_before=False,
    ),
    Row(
        "D2",
        "one cell with a slow output capacitor: the dead output is seen by its amps",
        cell_dies_slowly,
        (Must((TRIPPED,), 4.0, within_samples=2.0, priority="high", action="Output OFF."),),
        (MustNot((SHORT,)),),
        quiet_before=False,
    ),
    Row(
        "C1",
        "stack of cells, settings that know of one",
        stack_not_stated,
        (Must((names.CHECK_CELLS,), 300.0, "prompt", says="cells", not_before_s=-70.0),),
        (MustNot((names.CHECK_CELLS,), at_most=1), MustNot((SHORT, TRIPPED))),
        quiet_before=False,
    ),
    Row(
        "C2",
        "stack whose supply regulates to 0.2 V",
        stack_regulation,
        (),
        (
            MustNot((SHORT, TRIPPED, TRIP_EXPECTED, CONNECTION_RESISTANCE, FINISHED)),
            MustNot((names.WAS_THAT_YOU, names.RESISTANCE_JUMPED, names.CHECK_CELLS)),
        ),
    ),
    Row(
        "C3",
        "clip goes bad, then the volts are moved by hand",
        clip_goes_bad,
        (Must((names.RESISTANCE_JUMPED,), 10.0, "prompt", within_samples=1.0),),
        (MustNot((CONNECTION_RESISTANCE,), after="moves"), MustNot((TRIPPED, SHORT))),
        check=watts_within_the_supply,
    ),
    Row(
        "E1",
        "steady rise: no end of the strip",
        steady_rise,
        (),
        (MustNot((FINISHED, SHORT, TRIPPED, names.LOOK)),),
    ),
    Row(
        "E2",
        "end that nobody confirmed, then a cut-out",
        end_not_confirmed,
        (Must((TRIPPED,), 2.0, within_samples=2.0, priority="critical", action="Output OFF."),),
        quiet_before=False,
    ),
    Row(
        "L1",
        "one answer in five is lost at a poll each two seconds",
        one_answer_in_five_lost,
        (),
        (MustNot((NO_DATA, SHORT, TRIPPED, TRIP_EXPECTED)),),
    ),
)
