"""What every protocol's end has in common: bytes in, bytes out, and a record of both."""

import json
from dataclasses import dataclass
from typing import Protocol

from simulators.rig import Point


@dataclass(frozen=True, slots=True)
class Exchange:
    """One message that came, and what went back.

    Parameters
    ----------
    t_s
        Seconds of bath time when the message was complete.
    question
        The message without its end, bytes outside ASCII written as \\xNN.
    answer
        What was sent, without its end; None where nothing was.
    truth
        What was the case at that moment, before any meter.
    commands
        Those parts of the message that are no questions, as they came; empty if it only asks.
    """

    t_s: float
    question: str
    answer: str | None
    truth: Point
    commands: tuple[str, ...] = ()

    def as_json(self) -> str:
        """One line of a log, without its end."""
        truth = self.truth
        return json.dumps(
            {
                "t_s": round(self.t_s, 4),
                "question": self.question,
                "answer": self.answer,
                "commands": list(self.commands),
                "true": {
                    "t_s": truth.t_s,
                    "volts": round(truth.volts, 6),
                    "amps": round(truth.amps, 6),
                    "celsius": None if truth.celsius is None else round(truth.celsius, 4),
                    "mode": truth.mode.value,
                },
            }
        )


class End(Protocol):
    """The supply's end of one link in one protocol: no I/O and no clock in here."""

    def feed(self, data: bytes, t_s: float) -> None:
        """Take bytes that came at so many seconds of bath time, whole messages or not."""
        ...

    def take(self) -> bytes:
        """Give what is to be sent, once."""
        ...

    def exchanges(self) -> list[Exchange]:
        """Give the exchanges since this was last asked."""
        ...
