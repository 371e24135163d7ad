"""One deviation as data: its scene, what must be said of it, and what must not."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from benchmarks.hazards.draw import Draw
from benchmarks.hazards.played import Played
from benchmarks.hazards.said import Said

PRIORITIES = ("low", "medium", "high", "critical")


@dataclass(frozen=True, slots=True)
class Must:
    """Something that must be said.

    Parameters
    ----------
    names
        Of alarms, prompts or states: any of them will do; empty for whatever says the words.
    kind
        "alarm" for a raise, "returned" for an alarm's return, "prompt", "state", "explanation" (of
        a cut-out); "" for whatever kind; "gone" for an alarm that must not stand at the time's end.
    within_s, within_samples
        How soon after the mark; the samples count in polls, beside the seconds.
    after
        The scene's mark from which the time counts.
    not_before_s
        What comes sooner after the mark does not count.
    priority
        The lowest that will do.
    action
        First words of the action, without regard to case.
    says
        A regular expression in message, action or order of events, without regard to case.
    """

    names: tuple[str, ...]
    within_s: float
    kind: str = "alarm"
    within_samples: float = 0.0
    after: str = "event"
    not_before_s: float = -0.5
    priority: str = "low"
    action: str = ""
    says: str = ""


@dataclass(frozen=True, slots=True)
class MustNot:
    """Something that must not be said.

    Parameters
    ----------
    names
        Of alarms (raised), prompts or states; empty for whatever is said.
    says
        A regular expression in message, action or order of events; "" for whatever words.
    after, until
        The scene's marks between which it must not be said; "" for the begin and the end.
    delay_s
        So long after the first mark it does not count yet.
    at_most
        So often it may be said.
    priority
        Only from this priority on.
    """

    names: tuple[str, ...] = ()
    says: str = ""
    after: str = "event"
    until: str = ""
    delay_s: float = 0.0
    at_most: int = 0
    priority: str = "low"


Scene = Callable[[Draw], Played]
Check = Callable[[Played, Sequence[Said]], list[str]]


@dataclass(frozen=True, slots=True)
class Row:
    """One row.

    Parameters
    ----------
    row
        Its identifier, such as "A14".
    title
        What happens at the bench.
    check
        Whatever else must hold; gives faults in words.
    quiet_before
        Whether nothing may be said before the event.
    """

    row: str
    title: str
    scene: Scene
    must: tuple[Must, ...] = ()
    must_not: tuple[MustNot, ...] = ()
    quiet_before: bool = True
    check: Check | None = None


def at_least(priority: str, lowest: str) -> bool:
    """Whether a priority is as high as another.

    >>> at_least("high", "medium"), at_least("low", "medium")
    (True, False)
    """
    return PRIORITIES.index(priority) >= PRIORITIES.index(lowest)
