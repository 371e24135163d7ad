"""Bytes that wait until it is time for them to go on the wire."""

from collections import deque
from dataclasses import dataclass

# Bytes that fall due within this of one another go out at one waking, as an adapter hands them on.
TOGETHER_S = 0.001


@dataclass(slots=True)
class _Piece:
    data: bytes
    at_s: float
    per_byte_s: float
    gone: int = 0

    @property
    def ends_s(self) -> float:
        return self.at_s + len(self.data) * self.per_byte_s

    def due(self, now_s: float) -> int:
        """How many of its bytes may have gone by now."""
        if now_s >= self.ends_s:
            return len(self.data)
        if self.per_byte_s <= 0.0:
            return 0
        return max(int((now_s - self.at_s) / self.per_byte_s), 0)


class Outbox:
    """First in, first out, each byte at its time.

    Examples
    --------
    >>> outbox = Outbox()
    >>> outbox.put(b"9.00", at_s=10.0, per_byte_s=0.5)
    >>> outbox.take(11.2), outbox.take(99.0), outbox.wake_s(99.0)
    (b'9.', b'00', None)
    """

    def __init__(self) -> None:
        self._pieces: deque[_Piece] = deque()
        self._ends_s = 0.0

    @property
    def ends_s(self) -> float:
        """When the last byte that was put in goes, or went."""
        return self._ends_s

    def put(self, data: bytes, at_s: float, per_byte_s: float = 0.0) -> None:
        """Say what is to go and from when on; never before what was put in earlier."""
        if data:
            piece = _Piece(data, max(at_s, self._ends_s), per_byte_s)
            self._ends_s = piece.ends_s
            self._pieces.append(piece)

    def take(self, now_s: float) -> bytes:
        """What is due, once."""
        out = bytearray()
        while self._pieces:
            piece = self._pieces[0]
            due = piece.due(now_s)
            out += piece.data[piece.gone : due]
            piece.gone = max(due, piece.gone)
            if piece.gone < len(piece.data):
                break
            self._pieces.popleft()
        return bytes(out)

    def wake_s(self, now_s: float) -> float | None:
        """When to take again; None where nothing waits."""
        if not self._pieces:
            return None
        piece = self._pieces[0]
        next_s = piece.at_s + (piece.gone + 1) * piece.per_byte_s
        return min(max(next_s, now_s + TOGETHER_S), max(piece.ends_s, next_s))

    def clear(self) -> None:
        """Forget what has not gone."""
        self._pieces.clear()
        self._ends_s = 0.0
