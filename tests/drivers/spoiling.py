"""What all scripted ends of these tests share: what they send and when, and how it is spoilt."""

import random
from collections.abc import Sequence
from dataclasses import dataclass, field

from drivers.promises import Fault, Given


@dataclass(frozen=True, slots=True)
class Piece:
    """Some bytes that leave a while after the message that caused them."""

    after_s: float
    data: bytes


@dataclass
class Spoiling:
    """A scripted end.

    Parameters
    ----------
    delay_s
        From and to: each answer takes so long, drawn evenly.
    """

    delay_s: tuple[float, float] = (0.0, 0.0)
    fault: Fault = Fault.NONE
    late_s: float = 0.075
    seed: int = 1
    given: list[Given] = field(default_factory=list)
    received: list[bytes] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)
        self.unfinished = b""

    def spoil(self, answer: bytes) -> list[Piece]:
        wait_s = self.random.uniform(*self.delay_s)
        match self.fault:
            case Fault.MUTE | Fault.DRIP | Fault.UNPLUGGED:
                return []
            case Fault.PARTIAL:
                return [Piece(wait_s, answer[: len(answer) // 2])]
            case Fault.LATE:
                return [Piece(self.late_s, answer)]
            case Fault.NOISE:
                return [Piece(wait_s, self.random.randbytes(len(answer)) + b"\x7f")]
            case _:
                return [Piece(wait_s, answer)]


class BadDay(Spoiling):
    """One answer in four is spoilt in one of several ways; goes before the scripted end."""

    timeout_s = 0.1

    def spoil(self, answer: bytes) -> list[Piece]:
        wait_s = self.random.uniform(*self.delay_s)
        if self.random.random() < 0.75:
            return [Piece(wait_s, answer)]
        half = self.random.randrange(len(answer))
        ways: list[Sequence[Piece]] = [
            [],
            [Piece(wait_s, answer[:half])],
            [Piece(wait_s, answer[:half]), Piece(1.2 * self.timeout_s, answer[half:])],
            [Piece(wait_s, b"\xff\x80" + answer)],
            *self.own_ways(answer, half, wait_s),
        ]
        return list(self.random.choice(ways))

    def own_ways(self, answer: bytes, half: int, wait_s: float) -> list[list[Piece]]:
        """Ways in which only this protocol is spoilt."""
        raise NotImplementedError
