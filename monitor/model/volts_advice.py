"""Advice in numbers: the volts to turn down to, by when, and how long the strip takes then."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class VoltsAdvice:
    """What to do about the volts before the supply cuts out.

    Parameters
    ----------
    t_ns, seq
        Of the row that it follows.
    volts
        To set, in tenths; None where the advice before it stands no more.
    act_within_s
        Seconds until the volts must be set; 0 for now.
    finish_in_s
        Seconds until the strip is likely finished then; None where that is not known.
    pause_s
        Seconds with the output off, to cool, before those volts; 0 for none.
    holds_for_s
        Seconds for which those volts are thought to do, where the end is not known.
    message
        All of it in words.
    """

    t_ns: int
    seq: int
    volts: float | None
    act_within_s: float | None = None
    finish_in_s: float | None = None
    pause_s: float = 0.0
    holds_for_s: float | None = None
    message: str = ""

    @property
    def t_s(self) -> float:
        """Seconds since the run began."""
        return self.t_ns / 1e9
