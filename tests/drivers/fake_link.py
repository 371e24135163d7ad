"""A clock that only moves when somebody waits, and a link in memory that waits by it."""

from collections.abc import Callable, Iterable

from drivers.errors import Reopen
from tests.clock import HandClock
from tests.drivers.fake_end import Scripted
from tests.drivers.spoiling import Piece


class FakeLink:
    """A link to a `FakeSupply`, by a `HandClock`; the supply answers in the order of asking.

    Parameters
    ----------
    cut
        How each piece is cut up on the way; None leaves it whole.
    """

    def __init__(
        self,
        supply: Scripted,
        clock: HandClock,
        cut: Callable[[bytes], Iterable[bytes]] | None = None,
    ) -> None:
        self.supply = supply
        self.clock = clock
        self.cut = cut
        self.is_open = False
        self.opened = 0
        self._coming: list[tuple[int, bytes]] = []

    @property
    def place(self) -> str:
        return "fake"

    def open(self, deadline_ns: int) -> None:
        self.is_open = True
        self.opened += 1

    def close(self) -> None:
        self.is_open = False

    def write(self, data: bytes, deadline_ns: int) -> None:
        if not self.is_open:
            raise Reopen("fake: not open")
        for piece in self.supply.receive(data):
            self.send(piece)

    def send(self, piece: Piece) -> None:
        """Let a piece come, not before those that are under way."""
        at_ns = self.clock.now_ns + int(piece.after_s * 1e9)
        if self._coming:
            at_ns = max(at_ns, self._coming[-1][0])
        parts = [piece.data] if self.cut is None else self.cut(piece.data)
        self._coming += [(at_ns, part) for part in parts if part]

    def read(self, deadline_ns: int) -> bytes:
        if not self.is_open:
            raise Reopen("fake: not open")
        if self._coming and self._coming[0][0] <= max(self.clock.now_ns, deadline_ns):
            at_ns, data = self._coming.pop(0)
            self.clock.now_ns = max(self.clock.now_ns, at_ns)
            return data
        self.clock.now_ns = max(self.clock.now_ns, deadline_ns)
        return b""
