"""What the ends of all protocols share, and the record of one question and its answer."""

import json
from dataclasses import dataclass
from typing import Protocol

from simulators.rig import Point, Rig
from simulators.tags import Tag


@dataclass(frozen=True, slots=True)
class Exchange:
    """One message that came, and what went back.

    Parameters
    ----------
    t_s
        Seconds of bath time when the message was complete.
    question
        The message without its end, bytes outside ASCII written as \\xNN; in hexadecimal where
        the protocol is not text. Empty where the supply spoke unasked.
    answer
        What the supply answered, without its end, before any fault; None for nothing.
    truth
        What was the case at that moment, before any meter.
    commands
        Those parts of the message that are no questions; empty if it only asks.
    asked
        The message as it came.
    sent
        What goes onto the wire for it, after any fault.
    unit
        The unit that was asked, where the protocol has units.
    tags
        What the values in the answer say of themselves, where values are tagged.
    torn
        Quantities of which the answer holds only a part.
    fault
        What was done to the answer; None for nothing.
    """

    t_s: float
    question: str
    answer: str | None
    truth: Point
    commands: tuple[str, ...] = ()
    asked: bytes = b""
    sent: bytes = b""
    unit: int | None = None
    tags: tuple[Tag, ...] = ()
    torn: tuple[str, ...] = ()
    fault: str | None = None

    def as_json(self) -> str:
        """One line of a log, without its end."""
        truth = self.truth
        return json.dumps(
            {
                "t_s": round(self.t_s, 4),
                "question": self.question,
                "answer": self.answer,
                "commands": list(self.commands),
                "fault": self.fault,
                "asked": self.asked.hex(" "),
                "sent": self.sent.hex(" "),
                "unit": self.unit,
                "tags": {tag.quantity: tag.whole for tag in self.tags},
                "torn": list(self.torn),
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

    @property
    def quiet_s(self) -> float | None:
        """How long a silence ends a message; None where silence means nothing."""
        ...

    @property
    def every_s(self) -> float | None:
        """How often it speaks unasked; None for never."""
        ...

    @property
    def has_part(self) -> bool:
        """True while it waits for the rest of a message."""
        ...

    def feed(self, data: bytes, t_s: float) -> None:
        """Take bytes that came at so many seconds of bath time, whole messages or not."""
        ...

    def pause(self, t_s: float) -> None:
        """Hear that the line has been silent for `quiet_s`."""
        ...

    def speak(self, t_s: float) -> None:
        """Say what it says unasked."""
        ...

    def take(self) -> bytes:
        """Give what is to be sent, once."""
        ...

    def exchanges(self) -> list[Exchange]:
        """Give the exchanges since this was last asked."""
        ...

    def unheard(self, data: bytes, t_s: float) -> Exchange:
        """The record of bytes that came while it could not listen."""
        ...

    def refusal(self, asked: bytes, code: int) -> bytes:
        """The answer that refuses a message, with an error code of the protocol."""
        ...

    def pose_as(self, serial: int | None) -> None:
        """Give itself out for another supply; None ends it."""
        ...

    def restart(self) -> None:
        """Be as after switching on."""
        ...


class Records:
    """What an end keeps until it is taken: the bytes to be sent and the exchanges."""

    quiet_s: float | None = None
    every_s: float | None = None

    def __init__(self, rig: Rig) -> None:
        self._first_rig = rig
        self._buffer = bytearray()
        self._out = bytearray()
        self._exchanges: list[Exchange] = []

    @property
    def has_part(self) -> bool:
        """True while it waits for the rest of a message."""
        return bool(self._buffer)

    def take(self) -> bytes:
        """Give what is to be sent, once."""
        out = bytes(self._out)
        self._out.clear()
        return out

    def exchanges(self) -> list[Exchange]:
        """Give the exchanges since this was last asked."""
        exchanges, self._exchanges = self._exchanges, []
        return exchanges

    def pause(self, t_s: float) -> None:
        """Silence means nothing, unless a protocol says so."""

    def speak(self, t_s: float) -> None:
        """Nothing is said unasked, unless a protocol says so."""

    def unheard(self, data: bytes, t_s: float) -> Exchange:
        """The record of bytes that came while it could not listen."""
        return Exchange(t_s, self._shown(data), None, self._first_rig.truth(), asked=data)

    def _shown(self, data: bytes) -> str:
        return data.decode("ascii", "backslashreplace").strip()

    def _say(self, exchange: Exchange) -> None:
        self._out += exchange.sent
        self._exchanges.append(exchange)
