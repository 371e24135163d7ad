"""Cuts the bytes of a link into lines of text; it opens no port.

Rules, each with its test:

1. A line ends with LF, CR, CR LF or LF CR, whichever comes; nobody assumes which.
2. Text without its end is never a line, however long one waits.
3. Empty lines are no lines, and NUL bytes are dropped wherever they stand.
4. A line longer than the limit is dropped whole, up to its end, and counted.
5. What is dropped is counted in bytes.
6. Texts that are to be ignored, such as a prompt "> " or a line "OK", are no lines and no rest.
"""

import re
from collections.abc import Sequence

_END = re.compile(rb"[\r\n]")


class LineBuffer:
    """Keeps bytes until a whole line is there.

    Parameters
    ----------
    max_length
        The longest line, bytes.
    ignored
        Texts that mean nothing where they are a whole line, or, if they end in a sign or a space,
        where a line begins with them.

    Examples
    --------
    >>> lines = LineBuffer()
    >>> lines.feed(b"12.5;3.2")
    >>> lines.take() is None
    True
    >>> lines.feed(bytes([13, 10]))
    >>> lines.take()
    '12.5;3.2'
    """

    def __init__(self, max_length: int = 4096, ignored: Sequence[str] = ()) -> None:
        self.max_length = max_length
        self._ignored = tuple(text.encode("latin-1", "replace") for text in ignored)
        self.dropped_bytes = 0
        self.overlong_lines = 0
        self._bytes = bytearray()
        self._is_overlong = False

    @property
    def pending(self) -> bytes:
        """What waits: further lines, or text without an end; without its empty lines."""
        if not self._ignored:
            return bytes(self._bytes).lstrip(b"\r\n")
        *lines, rest = (self._bare(piece) for piece in _END.split(bytes(self._bytes)))
        if any(text.startswith(rest) for text in self._ignored):
            rest = b""
        return b"\n".join(piece for piece in (*lines, rest) if piece)

    def feed(self, data: bytes) -> None:
        """Add bytes as they came."""
        self._bytes += data.replace(b"\0", b"")

    def take(self) -> str | None:
        """The next whole line without its end, each byte one character (Latin-1); or None."""
        while True:
            match = _END.search(self._bytes)
            if match is None:
                if len(self._bytes) > self.max_length:
                    self.dropped_bytes += len(self._bytes)
                    self._bytes.clear()
                    self._is_overlong = True
                return None
            line = bytes(self._bytes[: match.start()])
            del self._bytes[: match.end()]
            if self._is_overlong or len(line) > self.max_length:
                self._is_overlong = False
                self.overlong_lines += 1
                self.dropped_bytes += len(line)
            elif line := self._bare(line):
                return line.decode("latin-1")

    def take_exactly(self, length: int) -> str | None:
        """So many bytes, whatever they are; None where there are fewer."""
        waiting = self._front()
        if len(waiting) < length:
            return None
        self._bytes = bytearray(waiting[length:])
        return waiting[:length].decode("latin-1")

    def drop_echo(self, wire: bytes) -> bool:
        """Drop a question that has come back before anything else; whether it had."""
        waiting = self._front()
        if not waiting.startswith(wire):
            return False
        self._bytes = bytearray(waiting[len(wire) :])
        return True

    def _front(self) -> bytes:
        """What waits, from the first byte that is no end of a line and no prompt."""
        waiting = bytes(self._bytes).lstrip(b"\r\n")
        for text in self._ignored:
            if not text[-1:].isalnum() and waiting.startswith(text):
                waiting = waiting[len(text) :].lstrip(b"\r\n")
        return waiting

    def end(self) -> None:
        """Take what waits for a whole line, though it has no end."""
        self._bytes += b"\n"

    def discard(self) -> int:
        """Drop everything that waits; how many bytes that were, empty lines not counted."""
        count = len(self.pending)
        self.dropped_bytes += count
        *_, rest = _END.split(bytes(self._bytes))
        self._bytes.clear()
        if any(text != rest and text.startswith(rest) for text in self._ignored):
            self._bytes += rest
        self._is_overlong = False
        return count

    def _bare(self, line: bytes) -> bytes:
        """The line without what is to be ignored."""
        for text in self._ignored:
            if line.strip() == text.strip():
                return b""
            if not text[-1:].isalnum():
                while line.startswith(text):
                    line = line[len(text) :]
        return line if not self._ignored or line.strip() else b""
