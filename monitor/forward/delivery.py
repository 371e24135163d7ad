"""Delivers a batch of lines; finds bad points by halving it, and keeps them apart."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.forward.reply import Meaning, Reply
from monitor.forward.sink import Sink

REFUSALS_IN_A_ROW = 10
"""So many points refused one after the other, none taken, and no word about any of them: the
server refuses us, not a point."""


@dataclass(frozen=True, slots=True)
class Delivered:
    """What became of a batch.

    Parameters
    ----------
    is_dealt_with
        False where the batch must be sent again as a whole; the other figures are then 0.
    reply
        The last that was no success; None where all were.
    taken, too_old, quarantined
        See `Outcome`.
    may_have_lost
        True where the server may have lost what it took before, so that it must be sent again.
    """

    is_dealt_with: bool
    reply: Reply | None
    taken: int = 0
    too_old: int = 0
    quarantined: tuple[tuple[str, str], ...] = ()
    may_have_lost: bool = False


class Courier:
    """Delivers batches, in order, whatever single points in them are worth.

    A server may keep the good part of a batch that it refuses ("partial write"); what is sent
    again in halves then is the same series and time, and changes nothing there.
    """

    def __init__(self, sink: Sink) -> None:
        self._sink = sink
        self._refused_in_a_row = 0
        self._too_old_until_ns: int | None = None

    def deliver(self, lines: Sequence[str]) -> Delivered:
        """Deliver what can be delivered."""
        parts = [lines] if lines else []
        taken = too_old = 0
        quarantined: list[tuple[str, str]] = []
        failure: Reply | None = None
        is_new = False
        while parts:
            whole, part = len(parts[-1]), self._kept_still(parts.pop())
            too_old += whole - len(part)
            if not part:
                continue
            reply = self._sink.write(part)
            is_new |= reply.is_new_connection
            if reply.meaning is Meaning.TAKEN:
                taken += len(part)
                self._refused_in_a_row = 0
                continue
            failure = reply
            if reply.meaning not in (Meaning.REFUSED, Meaning.TOO_LARGE):
                return Delivered(False, reply, may_have_lost=_may_have_lost(reply))
            if len(part) > 1 and reply.dropped != len(part):
                middle = len(part) // 2
                if reply.is_too_old:
                    # The newest that is too old tells of all others.
                    part = sorted(part, key=_time_ns)
                    parts += [part[:middle], part[middle:]]
                else:
                    parts += [part[middle:], part[:middle]]
            elif reply.is_too_old:
                too_old += len(part)
                until_ns = max(_time_ns(line) for line in part)
                self._too_old_until_ns = max(until_ns, self._too_old_until_ns or 0)
            else:
                quarantined += [(line, reply.text) for line in part]
                self._refused_in_a_row += not reply.is_explained
                if self._refused_in_a_row >= REFUSALS_IN_A_ROW:
                    refuses = Reply(Meaning.WRONG_PLACE, reply.status, f"{reply.words} (all)")
                    return Delivered(False, refuses)
        return Delivered(True, failure, taken, too_old, tuple(quarantined), is_new)

    def _kept_still(self, lines: Sequence[str]) -> Sequence[str]:
        """The lines that are not older than what the server has refused for its age."""
        until_ns = self._too_old_until_ns
        if until_ns is None:
            return lines
        return [line for line in lines if _time_ns(line) > until_ns]


def _time_ns(line: str) -> int:
    return int(line.rsplit(" ", 1)[1])


def _may_have_lost(reply: Reply) -> bool:
    """A server that only asks for a pause, or does not know us, has lost nothing."""
    return reply.meaning is Meaning.UNREACHABLE or (reply.status or 0) >= 500
