"""A reading with its time, or the silence in its place: what the recorder makes of one due poll."""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

from drivers.reading import Mode

HOLE_POLLS = 3.5
"""A step in time of more polls is a hole: three polls and more are missing. So a slow supply that
answers every third poll leaves none."""
HOLE_S = 2.0


class GapReason(StrEnum):
    """Why a poll was not even asked; why one was not answered is a `drivers.errors.Reason`.

    `NOT_ASKED` is one whose time came while the supply was still busy with the one before.
    """

    NOT_ASKED = "poll missed"
    HOST_PAUSED = "host paused"
    PROGRAM_FAILED = "program failed"


class Quality(IntEnum):
    """How far a row can be trusted; the number is what the store keeps."""

    GOOD = 0
    LATE = 1
    SUSPECT = 2
    MISSING = 3

    @property
    def word(self) -> str:
        """The word in exports, such as "good"."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Sample:
    """One answered poll.

    Parameters
    ----------
    seq
        Counts every due poll of the run, answered or not, from 0.
    t_ns
        Nanoseconds since the run began, from a monotonic clock: the middle of question and answer.
    utc_ns
        The wall clock at that moment, nanoseconds since 1970 UTC.
    latency_us
        Microseconds from the question to the whole answer.
    volts, amps, celsius
        None where the supply gave no value; never NaN.
    quality
        `SUSPECT` rows are stored as they came but never reckoned with.
    reason
        Why the row is suspect or late, in words; None for a good one.
    """

    seq: int
    t_ns: int
    utc_ns: int
    latency_us: int
    volts: float | None
    amps: float | None
    celsius: float | None = None
    mode: Mode = Mode.UNKNOWN
    quality: Quality = Quality.GOOD
    reason: str | None = None

    @property
    def t_s(self) -> float:
        """Seconds since the run began."""
        return self.t_ns / 1e9


@dataclass(frozen=True, slots=True)
class Gap:
    """One due poll without an answer, and why.

    `t_ns` and `utc_ns` are those of the due time. `reason` is a short phrase such as
    "no answer" or "host paused"; `detail` the driver's whole message.
    """

    seq: int
    t_ns: int
    utc_ns: int
    reason: str
    detail: str = ""

    @property
    def t_s(self) -> float:
        """Seconds since the run began."""
        return self.t_ns / 1e9


def longest_step_s(poll_s: float, least_s: float = HOLE_S) -> float:
    """The longest step in time between two readings that follow each other, seconds.

    A longer one is a hole, though no gap was written down.

    Examples
    --------
    >>> longest_step_s(0.2), longest_step_s(1.0)
    (2.0, 3.5)
    """
    return max(HOLE_POLLS * poll_s, least_s)
