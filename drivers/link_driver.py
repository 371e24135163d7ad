"""What our drivers share: they open, close and keep the deadline in the same way."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Generic, TypeVar

from drivers.base.inert import inert
from drivers.errors import (
    AskAgain,
    GarbledAnswer,
    Reopen,
    SupplySilent,
    SupplyUnreadable,
    WrongSupply,
)
from drivers.link.dialogue import Dialogue, Tally
from drivers.link.link import SLICE_S, after
from drivers.link.serial_link import WRITE_WITHIN_S
from drivers.reading import Identity, Reading

D = TypeVar("D", bound=Dialogue)

CONNECT_S = 2.0
"""The longest time for opening a port or a connection, seconds."""
STARTING_REST_S = 0.3
START_S = 3.5
"""A board that is reset by the opening of its port answers within this (common practice, no
source: boot loader 1 to 2 s, then its greeting)."""


class LinkDriver(ABC, Generic[D]):
    """A `Driver` that holds a dialogue with its supply.

    Parameters
    ----------
    conversation
        On a closed link.
    starts_in_s
        How long the supply takes from the opening of its port until it answers.
    start_s
        For how long an opening that fails is tried again on the open port, since the supply may
        be starting; 0.0 for never. A supply that once answered at once is not waited for again.
    """

    def __init__(self, conversation: D, starts_in_s: float = 0.0, start_s: float = 0.0) -> None:
        self.conversation = conversation
        self.starts_in_s = starts_in_s
        self.start_s = start_s
        self._patience_s = start_s
        self._is_open = False

    @property
    @abstractmethod
    def open_timeouts(self) -> int:
        """How many time-outs an opening may take, beside the time to connect."""

    @property
    @abstractmethod
    def read_timeouts(self) -> int:
        """How many time-outs a reading may take."""

    @abstractmethod
    def read(self) -> Reading:
        """Ask the supply once."""

    @abstractmethod
    def _learn(self) -> Identity:
        """Find out on the open link who answers, and to what."""

    @property
    def deadline_s(self) -> float:
        timeout_s = self.conversation.timeout_s
        longest_s = max(self._opens_within_s, self.read_timeouts * timeout_s)
        return longest_s + WRITE_WITHIN_S + 2 * SLICE_S

    @property
    def _opens_within_s(self) -> float:
        start_s = self.starts_in_s + self.start_s
        return CONNECT_S + start_s + self.open_timeouts * self.conversation.timeout_s

    @property
    def tally(self) -> Tally:
        """What has happened on the link since the driver was made."""
        return self.conversation.tally

    def open(self) -> Identity:
        self.close()
        conversation = self.conversation
        with closed_on_failure(self.close):
            conversation.begin(self._opens_within_s)
            conversation.link.open(after(conversation.clock, CONNECT_S))
            conversation.hear_out(self.starts_in_s)
            identity = self._learn_once_started()
        self._is_open = True
        return identity

    def close(self) -> None:
        self._is_open = False
        self.conversation.link.close()

    def _learn_once_started(self) -> Identity:
        """Learn who answers; again and again while the supply may still be starting."""
        clock, tries = self.conversation.clock, 0
        until_ns = after(clock, self._patience_s)
        while True:
            tries += 1
            try:
                identity = self._learn()
            except (AskAgain, SupplySilent, SupplyUnreadable):
                if clock.monotonic_ns() >= until_ns:
                    raise
                self.conversation.hear_out(STARTING_REST_S)
            else:
                # The next opening resets it again, or does not.
                self._patience_s = 0.0 if tries == 1 else self.start_s
                return identity

    def _begin_reading(self) -> None:
        if not self._is_open:
            raise Reopen(f"{self.conversation.who}: the supply is not open")
        self.conversation.begin(self.read_timeouts * self.conversation.timeout_s)


@contextmanager
def closed_on_failure(close: Callable[[], None]) -> Iterator[None]:
    """Close when what is inside fails; an answer that failed asks for a reopening.

    Raises
    ------
    SupplyUnreadable, SupplySilent
        In the place of `GarbledAnswer` and of any other `AskAgain`; others leave as they are.
    """
    try:
        yield
    except GarbledAnswer as error:
        close()
        raise SupplyUnreadable(str(error)) from error
    except AskAgain as error:
        close()
        raise SupplySilent(str(error)) from error
    except BaseException:
        close()
        raise


def another_supply(who: str, before: str, now: str) -> WrongSupply:
    """The error for another instrument than the one that this run began with."""
    return WrongSupply(
        f"{who}: a different supply is answering: this run began with {inert(before)!r}, now "
        f"{inert(now)!r} answers: connect the first one again, or begin a new run"
    )
