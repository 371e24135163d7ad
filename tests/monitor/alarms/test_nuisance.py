"""What sounds for nothing is switched off in the end: noise at a limit, a start, a dead cable.

ANSI/ISA-18.2 wants no chattering alarm at all, and one alarm for one cause (as secondary texts
quote it; the standard itself was not at hand).
"""

import math
import random
from collections.abc import Callable, Iterator

import pytest

from drivers.reading import Mode
from monitor.model.alarm import AlarmEvent, AlarmName, Change
from monitor.model.fittings import Conductor, Fittings, Job, VoltsWindow
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.watch.vigil import Vigil

HOUR_S = 3600
EVERYTHING = Fittings(
    conductors=(Conductor("sleeve", 6.0, 90.0, 1.0), Conductor("lead", 9.0, 300.0, 1.0)),
    job=Job(area_dm2=1.0, micrometres=None, most_amps_per_dm2=5.0),
    window=VoltsWindow(6.0, 12.0),
    most_celsius=45.0,
)
Volts = float
Amps = float


def vigil(poll_s: float, kind: LimitKind = LimitKind.TRIPS, limit_amps: float = 20.0) -> Vigil:
    facts = RunFacts("bench-1", "scpi:/dev/none", limit_amps, kind, poll_s=poll_s)
    return Vigil(facts, fittings=EVERYTHING)


def sample(seq: int, poll_s: float, volts: Volts, amps: Amps, mode: Mode = Mode.UNKNOWN) -> Sample:
    t_ns = round(seq * poll_s * 1e9)
    return Sample(seq, t_ns, t_ns, 900, volts, amps, mode=mode)


def noisy(value: float, share: float, seed: int) -> Iterator[float]:
    """A value with white noise of so large a standard deviation, as a share of it."""
    chance = random.Random(seed)
    while True:
        yield value * (1.0 + chance.gauss(0.0, share))


def at_the_density(seed: int) -> Iterator[tuple[Volts, Amps]]:
    yield from ((9.0, amps) for amps in noisy(5.0, 0.01, seed))


def at_the_window(seed: int) -> Iterator[tuple[Volts, Amps]]:
    # The bath's amps follow: volts that move under amps that do not are a supply that holds.
    yield from ((volts, 0.4 * (volts - 2.1)) for volts in noisy(12.1, 0.003, seed))


def at_the_heat(seed: int) -> Iterator[tuple[Volts, Amps]]:
    yield from ((9.0, amps) for amps in noisy(5.85, 0.02, seed))


def at_the_current_limit(seed: int) -> Iterator[tuple[Volts, Amps]]:
    sagging = noisy(8.73, 0.004, seed)
    for number, amps in enumerate(noisy(19.65, 0.004, seed + 1)):
        yield (9.0, 10.0) if number < 60 else (next(sagging), amps)


AT_A_LIMIT: list[tuple[str, Callable[[int], Iterator[tuple[Volts, Amps]]], LimitKind]] = [
    (AlarmName.DENSITY_HIGH, at_the_density, LimitKind.TRIPS),
    (AlarmName.VOLTS_HIGH, at_the_window, LimitKind.TRIPS),
    (AlarmName.OVERHEATING, at_the_heat, LimitKind.TRIPS),
    (AlarmName.CURRENT_LIMITED, at_the_current_limit, LimitKind.HOLDS),
]


@pytest.mark.parametrize("poll_s", [0.5, 1.0])
@pytest.mark.parametrize(("alarm", "wobble", "kind"), AT_A_LIMIT)
def test_an_hour_of_noise_at_a_limit_is_one_alarm_at_the_most(
    alarm: str,
    wobble: Callable[[int], Iterator[tuple[Volts, Amps]]],
    kind: LimitKind,
    poll_s: float,
) -> None:
    for seed in (1, 2):
        watch, events = vigil(poll_s, kind), list[AlarmEvent]()
        values = wobble(seed)
        for seq in range(round(HOUR_S / poll_s)):
            events += watch.update(sample(seq, poll_s, *next(values))).events
        changes = [event.change for event in events if event.alarm == alarm]
        assert changes in ([], [Change.RAISED], [Change.RAISED, Change.RETURNED]), seed


@pytest.mark.parametrize(
    ("alarm", "volts", "amps", "delay_s"),
    [(AlarmName.DENSITY_HIGH, 9.0, 5.5, 5.0), (AlarmName.VOLTS_HIGH, 12.6, 4.0, 2.0)],
)
def test_a_real_excursion_is_told_within_its_delay_and_one_poll(
    alarm: str, volts: Volts, amps: Amps, delay_s: float
) -> None:
    watch = vigil(0.5)
    for seq in range(240):
        watch.update(sample(seq, 0.5, 9.0, 4.0))
    raised_s = [
        event.t_s
        for seq in range(240, 300)
        for event in watch.update(sample(seq, 0.5, volts, amps)).events
        if event.alarm == alarm
    ]
    assert len(raised_s) == 1
    assert delay_s <= raised_s[0] - 120.0 <= delay_s + 0.5


def test_twenty_starts_and_stops_raise_nothing() -> None:
    watch, events, seq = vigil(0.5), list[AlarmEvent](), 0
    for _ in range(20):
        for step in range(120):
            # Two seconds of soft start, a minute of work, the output switched off.
            share = min(step / 4.0, 1.0) if step < 80 else 0.0
            volts = 8.0 * share
            amps = max(0.0, volts - 1.8) * 0.6 * (1.0 + 0.003 * math.sin(step))
            mode = Mode.CONSTANT_VOLTAGE if share > 0.0 else Mode.OUTPUT_OFF
            events += watch.update(sample(seq, 0.5, volts, amps, mode)).events
            seq += 1
    assert [f"{event.alarm} {event.change}" for event in events] == []


@pytest.mark.parametrize("amps", [4.0, 5.6])
def test_a_supply_that_dies_is_one_more_alarm_whatever_else_is_watched(amps: Amps) -> None:
    watch, events = vigil(0.5), list[AlarmEvent]()
    for seq in range(400):
        events += watch.update(sample(seq, 0.5, 9.0, amps)).events
    stood = {event.alarm for event in events if event.change is Change.RAISED}
    events.clear()
    for seq in range(400, 1000):
        t_ns = round(seq * 0.5e9)
        events += watch.update(Gap(seq, t_ns, t_ns, "no answer")).events
    assert [(event.alarm, event.change) for event in events] == [(AlarmName.NO_DATA, Change.RAISED)]
    assert (AlarmName.DENSITY_HIGH in stood) is (amps > 5.0)
