"""Hears what a supply says on a link though nothing was asked."""

import re
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.link.asking_link import AskingLink
from drivers.link.line_buffer import LineBuffer
from drivers.link.link import Link, after
from monitor.setup.commission.errors import NotCommissioned

UNASKED_PATIENCES = 3.2
"""With the usual patience longer than a board takes to start, and to greet."""
SLOW_PATIENCES = 30.0
"""For the next lines of one that speaks every ten seconds."""
LONGEST_BLOCK = 6
_STILL_PERIODS = 2.5
_PAST = 0
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?")


@dataclass(frozen=True, slots=True)
class Heard:
    """One line that came, and when it had ended (monotonic, ns)."""

    text: str
    ended_ns: int


class Listening:
    """Whole lines off a link on which nothing is sent.

    Parameters
    ----------
    link
        Open, and used by nobody else.
    """

    def __init__(self, link: Link, clock: Clock) -> None:
        self._link = AskingLink(link, frozenset())
        self._clock = clock
        self._lines = LineBuffer()

    def begin_anew(self) -> None:
        """Throw away what has come until now."""
        while self._link.read(_PAST):
            pass
        self._lines.discard()

    def next_line(self, within_s: float) -> str | None:
        """The next whole line; None where none has ended in time."""
        deadline_ns = after(self._clock, within_s)
        while (text := self._lines.take()) is None:
            data = self._link.read(deadline_ns)
            if not data and self._clock.monotonic_ns() >= deadline_ns:
                return None
            self._lines.feed(data)
        return text

    def lines(self, within_s: float, enough: int = 10_000) -> list[Heard]:
        """All lines that end within a time, or the first ones where that many are enough."""
        until_ns = after(self._clock, within_s)
        heard: list[Heard] = []
        while len(heard) < enough and (left_ns := until_ns - self._clock.monotonic_ns()) > 0:
            text = self.next_line(left_ns / 1e9)
            if text is not None:
                heard.append(Heard(text, self._clock.monotonic_ns()))
        return heard

    def begun(self) -> bytes:
        """What has come of a line that has not ended."""
        return self._lines.pending


def shape(text: str) -> str:
    """A line without its numbers and the spaces around them: what stays the same.

    Examples
    --------
    >>> shape("V= 7.51 A=12.04") == shape("V=12.04 A= 7.51")
    True
    """
    return re.sub(r"[ \t]+", "", _NUMBER.sub("#", text))


def block_of(heard: list[Heard]) -> int:
    """Of how many lines what comes again and again is made; 0 where nothing comes again.

    Examples
    --------
    >>> lines = [Heard(text, n) for n, text in enumerate(("V=1", "I=2", "V=3", "I=4", "V=5"))]
    >>> block_of(lines), block_of(lines[:2])
    (2, 0)
    """
    shapes = [shape(line.text) for line in heard]
    for count in range(1, LONGEST_BLOCK + 1):
        if len(shapes) < 2 * count + 1:
            return 0
        newest = shapes[-2 * count - 1 :]
        if all(newest[n] == newest[n + count] for n in range(count + 1)):
            return count
    return 0


def every_s(heard: list[Heard], count: int) -> float:
    """The middle one of the times from one block to the next, seconds."""
    newest = heard[-1::-count][::-1]
    return median((later.ended_ns - sooner.ended_ns) / 1e9 for sooner, later in pairwise(newest))


def heard_unasked(
    link: Link, clock: Clock, patience_s: float, patiences: float = UNASKED_PATIENCES
) -> str | None:
    """What comes again and again though nothing was asked; None for nothing.

    Neither a late answer to another program's question nor the greeting of a board that starts.
    """
    listening = Listening(link, clock)
    heard = listening.lines(patiences * patience_s)
    if heard and not block_of(heard) and any(map(str.isdigit, heard[-1].text)):
        # It may speak more slowly than this: its next lines would be of the same shapes.
        heard += listening.lines(SLOW_PATIENCES * patience_s, enough=3)
    count = block_of(heard)
    if not count or not any(map(str.isdigit, heard[-1].text)):
        return None
    silent_s = (clock.monotonic_ns() - heard[-1].ended_ns) / 1e9
    return heard[-1].text if silent_s <= _STILL_PERIODS * every_s(heard, count) else None


def refuse_a_talker(link: Link, clock: Clock, patience_s: float) -> None:
    """Make sure that nothing comes unasked: its lines would be taken for answers.

    Raises
    ------
    NotCommissioned
    """
    text = heard_unasked(link, clock, patience_s)
    if text is not None:
        raise NotCommissioned(
            f"{link.place}: {inert(text, 40)!r} came though nothing was asked: it speaks by "
            "itself. Name no question for volts and amps, then its lines are read"
        )
