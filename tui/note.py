"""A note while the operator types it."""

LONGEST = 200
IDLE_S = 60.0


class Note:
    """One line of text; left alone for a minute it closes, so that keys mean keys again."""

    def __init__(self) -> None:
        self.text = ""
        self.is_open = False
        self._touched_ns = 0

    def open(self, now_ns: int) -> None:
        """Begin a blank note."""
        self.text, self.is_open, self._touched_ns = "", True, now_ns

    def close(self) -> None:
        """Drop it."""
        self.text, self.is_open = "", False

    def type(self, key: str, now_ns: int) -> str:
        """Take one key; the finished text once ENTER is pressed, else ""."""
        self._touched_ns = now_ns
        if key == "enter":
            done = self.text.strip()
            self.close()
            return done
        if key == "escape":
            self.close()
        elif key == "backspace":
            self.text = self.text[:-1]
        elif key == "space":
            self.text += " "
        elif len(key) == 1 and key.isprintable():
            self.text += key
        self.text = self.text[:LONGEST]
        return ""

    def expire(self, now_ns: int) -> None:
        """Drop a note that nobody goes on with."""
        if self.is_open and now_ns - self._touched_ns > IDLE_S * 1e9:
            self.close()
