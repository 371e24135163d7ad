"""The values in the forwarder's tables; no SQL."""

from dataclasses import dataclass
from enum import StrEnum

NO_END = 2**63 - 1
"""Ends a stretch whose run has ended: nothing comes after its last row."""


class Kind(StrEnum):
    """What is forwarded; in the order in which a batch takes it up."""

    ALARM = "alarm"
    MARK = "mark"
    READING = "reading"
    ESTIMATE = "estimate"


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rows of one kind of one run that a server does not have yet.

    Parameters
    ----------
    next_place
        The first of them: the seq of a reading or estimate, the number of an alarm's event or of a
        mark's text.
    ends
        The first place after them; None where the stretch follows a run that goes on.
    is_again
        True where the server had it and may have lost it.
    """

    stretch: int
    run: int
    kind: Kind
    next_place: int
    ends: int | None = None
    is_again: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a stretch that is dealt with: from its `next_place` up to `until`."""

    stretch: Stretch
    until: int
    is_last: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of the lines of a batch.

    Parameters
    ----------
    sent, left_out, too_old
        Points that were taken; readings without a number among them; points that the server no
        longer keeps. The last two count what is sent once more not again.
    quarantined
        Lines that the server will not have, each with its words.
    """

    sent: int = 0
    left_out: int = 0
    too_old: int = 0
    quarantined: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ForwardState:
    """How forwarding to one place stands.

    Parameters
    ----------
    place
        Address, organisation and bucket.
    behind
        Readings that the server does not have yet.
    sent, left_out, too_old, quarantined
        See `Outcome`; since forwarding to this place began.
    last_ok_utc_ns
        When a server last took something; None if never.
    trouble, trouble_utc_ns
        The last failure in words, and when it was last met; None if there was none.
    """

    place: str
    behind: int = 0
    sent: int = 0
    left_out: int = 0
    too_old: int = 0
    quarantined: int = 0
    last_ok_utc_ns: int | None = None
    trouble: str | None = None
    trouble_utc_ns: int | None = None
