"""Cuts the bytes of a link into lines of text; it opens no port.

Rules, each with its test:

1. A line ends with LF, CR, CR LF or LF CR, whichever comes; nobody assumes which.
2. Text without its end is never a line, however long one waits.
3. Empty lines are no lines, and NUL bytes are dropped wherever they stand.
4. A line longer than the limit is dropped whole, up to its end, and counted.
5. What is dropped is counted in bytes.
"""

import re

_END = re.compile(rb"[\r\n]")


class LineBuffer:
    """Keeps bytes until a whole line is there.

    Parameters
    ----------
    max_length
        The longest line, bytes.

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

    def __init__(self, max_length: int = 4096) -> None:
        self.max_length = max_length
        self.dropped_bytes = 0
        self.overlong_lines = 0
        self._bytes = bytearray()
        self._is_overlong = False

    @property
    def pending(self) -> bytes:
        """What waits: further lines, or text without an end; without its empty lines."""
        return bytes(self._bytes).lstrip(b"\r\n")

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
            elif line:
                return line.decode("latin-1")

    def end(self) -> None:
        """Take what waits for a whole line, though it has no end."""
        self._bytes += b"\n"

    def discard(self) -> int:
        """Drop everything that waits; how many bytes that were, empty lines not counted."""
        count = len(self.pending)
        self.dropped_bytes += count
        self._bytes.clear()
        self._is_overlong = False
        return count
