"""What goes wrong between an instrument and the bench: drawn anew for each answer."""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

KINDS = ("torn", "delayed", "doubled", "foreign", "silence", "stall", "reset")
SHARE = 0.12
"""Of the answers meet a fault."""


@dataclass(frozen=True, slots=True)
class Sending:
    """What is sent for one answer.

    Parameters
    ----------
    parts
        Seconds to wait, then bytes to send.
    pause_s
        For how long the instrument hears nothing afterwards; questions wait meanwhile.
    is_reset
        It forgets what waits, and closes a connection.
    """

    parts: tuple[tuple[float, bytes], ...]
    pause_s: float = 0.0
    is_reset: bool = False


class Mischief:
    """Draws a fault for one answer in eight while it is switched on.

    Parameters
    ----------
    timeout_s
        The longest that the driver waits for an answer: faults last about as long.
    kinds
        The faults that are drawn.
    holds_back
        An answer may be measured long before it is sent; nobody could see that of one who is not
        asked.
    """

    def __init__(
        self, seed: int, timeout_s: float, kinds: Sequence[str] = KINDS, holds_back: bool = True
    ) -> None:
        self.is_on = False
        self.kinds = [kind for kind in kinds if holds_back or kind != "delayed"]
        self._holds_back = holds_back
        self.drawn: list[str] = []
        self._timeout_s = timeout_s
        self._random = Random(seed)

    def around(self, answer: bytes) -> Sending:
        """What is sent in place of an answer."""
        random, whole = self._random, ((0.0, answer),)
        if not self.is_on or not self.kinds or random.random() > SHARE:
            return Sending(whole)
        kind = random.choice(self.kinds)
        self.drawn.append(kind)
        wait_s = self._timeout_s * random.uniform(0.3, 2.5)
        noise = bytes(random.randrange(256) for _ in range(random.randrange(1, 9)))
        match kind:
            case "torn":
                place = random.randrange(1, max(len(answer), 2))
                rest = () if random.random() < 0.5 else ((wait_s, answer[place:]),)
                return Sending(((0.0, answer[:place]), *rest))
            case "delayed":
                return Sending(((wait_s, answer),))
            case "doubled":
                second_s = random.choice((0.0, 0.002, wait_s))
                return Sending((*whole, (second_s, answer)))
            case "foreign":
                return Sending(
                    random.choice(
                        (((0.0, noise), (0.0, answer)), (*whole, (0.0, noise)), ((0.0, noise),))
                    )
                )
            case "stall":
                is_answered_first = random.random() < 0.5 or not self._holds_back
                pause_s = self._timeout_s * random.uniform(4.5, 9.0)
                if is_answered_first:
                    return Sending(whole, pause_s)
                return Sending(((pause_s, answer),))
            case "reset":
                return Sending((), pause_s=wait_s, is_reset=True)
            case "lost":
                return Sending(((0.0, answer[1:]),))
        return Sending(())
