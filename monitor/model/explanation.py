"""Why a strip stopped, and what happened before it."""

from dataclasses import dataclass
from enum import StrEnum


class Cause(StrEnum):
    """What happened first; the words are what the operator reads."""

    SLOW_RISE = "slow rise"
    SHORT = "sudden short"
    JUMP = "amps jumped"
    RESTARTS = "restarts by itself"
    HEAT = "heat"
    OPERATOR = "operator"
    MAINS_OR_LINK = "mains or link lost"
    UNSEEN = "not seen"


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened, in words."""

    t_s: float
    words: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why a strip stopped.

    Parameters
    ----------
    cause, sentence
        What happened first, and what was seen of it.
    seq, t_ns
        Of the row that stopped it.
    order
        What led there, oldest first.
    series
        What to say of earlier cut-outs; "" for a first one.
    """

    cause: Cause
    sentence: str
    seq: int
    t_ns: int
    order: tuple[Happening, ...] = ()
    series: str = ""

    @property
    def why(self) -> str:
        """Cause, what was seen, and the series: in one line."""
        return "; ".join(filter(None, (f"{self.cause}, {self.sentence}", self.series)))
