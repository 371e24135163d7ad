"""What the lookout tells a screen."""

from textual.message import Message

from tui.view import View


class Looked(Message):
    """A new picture of the run."""

    def __init__(self, view: View) -> None:
        super().__init__()
        self.view = view


class LookFailed(Message):
    """The store could not be read; `trouble` says why and the cure."""

    def __init__(self, trouble: str) -> None:
        super().__init__()
        self.trouble = trouble


class Asked(Message):
    """A request was dropped, or why it was not (`trouble`); `what` names it."""

    def __init__(self, what: str, trouble: str = "") -> None:
        super().__init__()
        self.what = what
        self.trouble = trouble


class Broke(Message):
    """The lookout failed by a bug of ours; the screen raises it."""

    def __init__(self, error: Exception) -> None:
        super().__init__()
        self.error = error
