"""Hears what a supply says on a link though nothing was asked."""

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.link.asking_link import AskingLink
from drivers.link.line_buffer import LineBuffer
from drivers.link.link import Link, after
from monitor.setup.commission.errors import NotCommissioned

UNASKED_PATIENCES = 2.0
_PAST = 0


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

    def begun(self) -> bytes:
        """What has come of a line that has not ended."""
        return self._lines.pending


def heard_unasked(link: Link, clock: Clock, patience_s: float) -> str | None:
    """What comes though nothing was asked; None for nothing.

    One line alone may be a late answer to another program's question: a second one must come.
    """
    listening, within_s = Listening(link, clock), UNASKED_PATIENCES * patience_s
    if listening.next_line(within_s) is None:
        return None
    return listening.next_line(within_s)


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
