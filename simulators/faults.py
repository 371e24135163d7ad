"""Decides which question meets which fault: by the faults file, or drawn from a seed.

A faults file has `seed` at its top and any number of `[[fault]]` tables, see `simulators.fault`.
What is drawn for a question depends on the seed and on its number only.
"""

import random
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from simulators.fault import ONE_TIME, Fault, Kind
from simulators.form import FormError, load_form

# Those that an even mix is made of: the others stop the link for seconds, or cannot be noticed
# on a line without a check.
MIXED: tuple[Kind, ...] = (
    "late", "early", "partial", "merged", "noise", "echo", "exception", "mute", "drip",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FaultsFile:
    """What stands in a faults file."""

    seed: int = 1
    faults: tuple[Fault, ...] = ()

    def __post_init__(self) -> None:
        for number, fault in enumerate(self.faults, 1):
            if fault.comes_at_once:
                raise FormError(f"[[fault]] number {number}: {ONE_TIME}")
        if sum(fault.rate or 0.0 for fault in self.faults) > 1.0:
            raise FormError("the rates of all faults together are over 1")


class Faults:
    """The faults of one supply, shared by all its links.

    Parameters
    ----------
    faults
        In this order, at most one for each question.
    seed
        Where chance starts.

    Examples
    --------
    >>> faults = Faults([Fault("mute", at_poll=2)])
    >>> [faults.take(0.0)[0] for _ in range(3)] == [None, Fault("mute", at_poll=2), None]
    True
    """

    def __init__(self, faults: Iterable[Fault] = (), seed: int = 1) -> None:
        faults = list(faults)
        self._seed = seed
        self._at_poll: dict[int, Fault] = {}
        for fault in faults:
            if fault.at_poll is not None:
                self._at_poll.setdefault(fault.at_poll, fault)
        timed = [fault for fault in faults if fault.at_s is not None]
        self._timed = deque(sorted(timed, key=lambda fault: fault.at_s or 0.0))
        self._drawn = [fault for fault in faults if fault.rate]
        self._next = deque(fault for fault in faults if fault.comes_at_once)
        self._poll = 1
        self.posing = 0

    @property
    def polls(self) -> int:
        """How many questions have come."""
        return self._poll - 1

    def add(self, fault: Fault) -> None:
        """Let the next question meet this; from any thread."""
        self._next.append(fault)

    def coming(self, t_s: float) -> Fault | None:
        """What the next question would meet now."""
        if self._next:
            return self._next[0]
        if (written := self._at_poll.get(self._poll)) is not None:
            return written
        if self._timed and (self._timed[0].at_s or 0.0) <= t_s:
            return self._timed[0]
        if self._drawn:
            point = random.Random(f"{self._seed}/{self._poll}").random()
            for fault in self._drawn:
                point -= fault.rate or 0.0
                if point < 0.0:
                    return fault
        return None

    def take(self, t_s: float) -> tuple[Fault | None, random.Random]:
        """What this question meets, and the chance that its details are drawn from."""
        fault = self.coming(t_s)
        if fault is not None:
            if self._next and fault is self._next[0]:
                self._next.popleft()
            elif self._timed and fault is self._timed[0]:
                self._timed.popleft()
        chance = random.Random(f"{self._seed}/{self._poll}/details")
        self._poll += 1
        return fault, chance


LATE_S = 0.3
"""Late answers of a mix come after 0 to twice as long."""
DRIP_S = 0.05
"""Between two bytes of an answer of a mix that drips."""


def even_mix(rate: float, *, kinds: Iterable[Kind] = MIXED) -> list[Fault]:
    """Faults of all these kinds that together meet so large a share of the questions.

    Parameters
    ----------
    rate
        0 to 1.
    """
    kinds = tuple(kinds)
    share = rate / len(kinds)
    mix = []
    for kind in kinds:
        match kind:
            case "late":
                mix.append(Fault(kind, rate=share, seconds=LATE_S, spread_s=LATE_S))
            case "drip":
                mix.append(Fault(kind, rate=share, seconds=DRIP_S))
            case _:
                mix.append(Fault(kind, rate=share))
    return mix


def load_faults(path: Path, more: Iterable[Fault] = (), seed: int | None = None) -> Faults:
    """Read a faults file.

    Parameters
    ----------
    more
        Faults beside those of the file.
    seed
        Instead of the file's.

    Raises
    ------
    FormError
        With one line that names what is wrong and the cure.
    """
    written = load_form(FaultsFile, "faults file", str(path))
    return Faults([*written.faults, *more], written.seed if seed is None else seed)
