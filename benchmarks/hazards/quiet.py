"""Quiet scenes: nothing is wrong, so each alarm and each question to the operator is a false one.

One scene lasts ten minutes and more. What a scene may rightly bring (the end of a strip) is named
beside it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from benchmarks.hazards import names
from benchmarks.hazards.amps_rows import strokes
from benchmarks.hazards.bench import Bench
from benchmarks.hazards.draw import Draw
from benchmarks.hazards.played import Played
from benchmarks.hazards.supply import AtLimit

END_PROMPTS = ("strip-looks-finished", "hold-done", "check-wetting", "log-the-bath")
TURN_S = (0.2, 1.0, 3.0, 10.0, 30.0)
STRIP_S = (400.0, 900.0)


@dataclass(frozen=True, slots=True)
class QuietScene:
    """A scene in which nothing is wrong, and the prompts that belong to it."""

    name: str
    play: Callable[[Draw], Played]
    may_say: tuple[str, ...] = ()


def _bench(draw: Draw, parts: int = 1) -> Bench:
    at_limit = draw.random.choice((AtLimit.CUTS_OUT, AtLimit.CUTS_OUT, AtLimit.HOLDS))
    bench = Bench(draw, at_limit, parts=parts)
    bench.settings.way = draw.random.choice(("", "tank"))
    bench.run(draw.between(2.0, 10.0))
    return bench


def _finish(bench: Bench) -> Played:
    bench.run(2.0)
    bench.switch(False)
    bench.run(bench.draw.between(10.0, 50.0))
    return bench.end()


def steady(draw: Draw) -> Played:
    """A strip at a steady level."""
    bench = _bench(draw)
    bench.switch(True)
    bench.run(draw.between(*STRIP_S))
    return _finish(bench)


def slow_rise(draw: Draw) -> Played:
    """The bath warms or loses water, and stays well under the limit."""
    draw.take_share(0.25, 0.5)
    draw.warm_per_hour = draw.between(0.1, 1.0)
    bench = _bench(draw)
    bench.switch(True)
    bench.run(draw.between(*STRIP_S))
    return _finish(bench)


def hand_ramps(draw: Draw) -> Played:
    """Turned up by hand at first, at any speed; small corrections within the window later."""
    final = draw.between(6.6, 9.0)
    draw.volts = 9.0
    bench = _bench(draw)
    bench.supply.knob_volts = draw.between(0.0, 2.5)
    bench.switch(True)
    bench.run(draw.between(1.0, 15.0))
    bench.ramp(draw.random.choice(TURN_S), final)
    for _ in range(draw.random.randint(2, 5)):
        bench.run(draw.between(60.0, 200.0))
        final = min(max(final * draw.between(0.93, 1.07), 6.3), 9.3)
        bench.ramp(draw.random.choice(TURN_S), final)
    bench.run(60.0)
    return _finish(bench)


def swab_work(draw: Draw) -> Played:
    """Swab strokes with short lifts, eight minutes of them."""
    draw.take_share(0.3, 0.6)
    bench = _bench(draw)
    bench.settings.way = "swab"
    bench.cell.level = 0.0
    bench.switch(True)
    bench.run(draw.between(1.0, 5.0))
    strokes(bench, draw.between(300.0, 480.0))
    return _finish(bench)


def parts_hung_in_off(draw: Draw) -> Played:
    """Parts are hung in or taken out with the output off; then on again."""
    bench = _bench(draw, parts=2)
    for _ in range(3):
        bench.cell.clips = [1.0] * draw.random.choice((1, 2))
        bench.switch(True)
        bench.run(draw.between(120.0, 300.0))
        bench.switch(False)
        bench.run(draw.between(15.0, 50.0))
    return bench.end()


def agitated(draw: Draw) -> Played:
    """The operator moves the part now and then; the bench shakes, drops fall."""
    bench = _bench(draw)
    bench.switch(True)
    end_s = bench.t_s + draw.between(*STRIP_S)
    while bench.t_s < end_s:
        bench.run(draw.between(20.0, 90.0))
        bench.cell.agitation = draw.between(0.01, 0.05)
        seconds = draw.between(5.0, 30.0)
        until_s = bench.t_s + seconds
        while bench.t_s < until_s:
            bench.stir()
            bench.run(min(2.0, until_s - bench.t_s))
        bench.cell.agitation = 0.0
        # A drop from the part, or a knock at the bench: a few percent for a moment.
        bench.cell.level = draw.between(0.93, 1.0)
        bench.stir()
        bench.run(0.3)
        bench.cell.level = 1.0
    return _finish(bench)


def normal_end(draw: Draw) -> Played:
    """The chromium is gone: the amps fall by 8 to 30 % within a minute, and the operator ends."""
    bench = _bench(draw)
    bench.switch(True)
    bench.run(draw.between(200.0, 500.0))
    cell, start, seconds = bench.cell, bench.t_s, draw.between(15.0, 60.0)
    lowest = draw.between(0.7, 0.92)

    def fall(_: float) -> None:
        cell.growth = 1.0 - (1.0 - lowest) * min((bench.t_s - start) / seconds, 1.0)

    bench.run(seconds + draw.between(15.0, 40.0), fall)
    return _finish(bench)


def coarse_meter(draw: Draw) -> Played:
    """A meter whose steps are a few percent of the amps, and a bath that hardly moves."""
    draw.amps_step = draw.amps * draw.between(0.02, 0.06)
    draw.bubble_share = 0.002
    bench = _bench(draw)
    bench.switch(True)
    bench.run(draw.between(*STRIP_S))
    return _finish(bench)


QUIET = (
    QuietScene("steady strip", steady),
    QuietScene("slow rise", slow_rise),
    QuietScene("volts turned by hand", hand_ramps, (names.WAS_THAT_YOU,)),
    QuietScene("swab strokes", swab_work),
    QuietScene("parts hung in with the output off", parts_hung_in_off, ("check-wetting",)),
    QuietScene("part agitated, drops, knocks", agitated),
    QuietScene("normal end of a strip", normal_end, END_PROMPTS),
    QuietScene("coarse meter", coarse_meter),
)
