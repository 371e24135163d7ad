"""The faults of one trial, drawn from a seed: on the wire, and around the recorder."""

import random
from dataclasses import dataclass

WIRE = (
    "late",
    "early",
    "partial",
    "merged",
    "noise",
    "echo",
    "exception",
    "mute",
    "drip",
    "unplug",
)
"""Kinds that the simulator plays; see simulators/fault.py. A garbled digit is left out: on a line
without a check nobody can tell it from a true one."""

MORE = {"unplug": 'how = "reset"\n', "drip": "seconds = 0.05\n"}
"""Kept short: an answer that drips in for seconds is a mute supply, which comes as such."""

ANSWERED = 0.55
"""Share of the due polls that are asked, for faults and outages cost some."""

AROUND = (
    "recorder stopped",
    "recorder killed",
    "store locked",
    "disk full",
    "screen killed",
    "screen stopped",
    "supply stopped",
)

AROUND_S = 3.0
"""Real seconds for which a fault around the recorder lasts."""


@dataclass(frozen=True, slots=True)
class Strike:
    """One fault: when it comes, real seconds after the start, and which it is."""

    at_s: float
    kind: str


def track(seed: int, seconds: float, count: int) -> list[Strike]:
    """So many faults over so many real seconds, in order; every kind comes before any repeats.

    Faults around the recorder keep a distance from each other, so that each can be told apart.
    """
    chance = random.Random(seed)
    room = int((seconds - 12.0) / (2.5 * AROUND_S))
    around = min(room, max(count // 4, 1))
    places = [8.0 + (seconds - 14.0) * number / around for number in range(around)]
    strikes = [
        Strike(at_s + chance.uniform(0.0, AROUND_S), kind)
        for at_s, kind in zip(places, _kinds(chance, AROUND, around), strict=True)
    ]
    strikes += [
        Strike(chance.uniform(4.0, seconds - 4.0), kind)
        for kind in _kinds(chance, WIRE, count - around)
    ]
    return sorted(strikes, key=lambda strike: strike.at_s)


def faults_file(strikes: list[Strike], polls_per_s: float) -> str:
    """The wire's part of a track as the simulator reads it, by the number of the question.

    By number and not by time: while a lost link waits to be opened again, faults by time would
    pile up and meet the next questions all at once.
    """
    tables = []
    for strike in strikes:
        if strike.kind not in WIRE:
            continue
        more = MORE.get(strike.kind, "")
        at_poll = round(ANSWERED * polls_per_s * strike.at_s)
        tables.append(f'[[fault]]\nkind = "{strike.kind}"\nat_poll = {at_poll}\n{more}')
    return "\n".join(tables)


def _kinds(chance: random.Random, kinds: tuple[str, ...], count: int) -> list[str]:
    drawn: list[str] = []
    while len(drawn) < count:
        drawn += chance.sample(kinds, len(kinds))
    return drawn[:count]
