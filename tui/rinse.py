"""The two questions after the rinse: keys in, how the strip turned out, out."""

from monitor.model.outcome import Outcome
from tui.ink import Ink, Line

WETTED = "Did the water film stay whole?"
HAZY = "Is a haze left?"
ANSWERS = {"y": True, "1": True, "n": False, "3": False, "x": None, "5": None}
IDLE_S = 60.0
HINT = "  y yes, n no, x not known; or 1, 3, 5"


class Rinse:
    """Asks whether the film of water stayed whole, then whether a haze is left.

    Any other key drops the questions, and so does a minute without a key, so that keys mean keys
    again.
    """

    def __init__(self) -> None:
        self._question = ""
        self._wetted: bool | None = None
        self._touched_ns = 0

    @property
    def is_open(self) -> bool:
        """True while an answer is awaited."""
        return bool(self._question)

    def open(self, now_ns: int) -> None:
        """Ask the first question."""
        self._question, self._wetted, self._touched_ns = WETTED, None, now_ns

    def takes(self, key: str) -> bool:
        """Whether a key is an answer; one that is not drops the questions."""
        if self.is_open and key not in ANSWERS:
            self._question = ""
        return self.is_open

    def answer(self, key: str, now_ns: int) -> Outcome | None:
        """Take an answer; the outcome once both are given."""
        self._touched_ns = now_ns
        if self._question == WETTED:
            self._wetted, self._question = ANSWERS[key], HAZY
            return None
        self._question = ""
        return Outcome(self._wetted, ANSWERS[key])

    def expire(self, now_ns: int) -> None:
        """Drop questions that nobody answers."""
        if now_ns - self._touched_ns > IDLE_S * 1e9:
            self._question = ""

    @property
    def line(self) -> Line:
        """What the last row shows meanwhile."""
        return ((f" {self._question} ", Ink.ASKED), (HINT, Ink.PLAIN))
