"""What the lookout tells a screen."""

from textual.message import Message


class Looked(Message):
    """A new picture; what it shows is the screen's own kind of picture."""

    def __init__(self, seen: object) -> None:
        super().__init__()
        self.seen = seen


class LookFailed(Message):
    """The store could not be read; `trouble` says why and the cure."""

    def __init__(self, trouble: str) -> None:
        super().__init__()
        self.trouble = trouble


class Asked(Message):
    """An errand was done, or why it was not (`trouble`); `what` names it."""

    def __init__(self, what: str, trouble: str = "") -> None:
        super().__init__()
        self.what = what
        self.trouble = trouble


class Broke(Message):
    """The lookout failed by a bug of ours; the screen raises it."""

    def __init__(self, error: Exception) -> None:
        super().__init__()
        self.error = error
