"""The two questions after the rinse: how did the strip turn out?"""

from monitor.model.outcome import Gone, Outcome
from tui.ink import Ink, Line

GONE = "Is the chromium gone everywhere?"
FILM = "Does the water film hold?"
GONE_ANSWERS = {
    **dict.fromkeys(("y", "1"), Gone.YES),
    **dict.fromkeys(("p", "2"), Gone.PATCHES),
    **dict.fromkeys(("n", "3"), Gone.NO),
    **dict.fromkeys(("x", "5"), None),
}
FILM_ANSWERS = {"y": True, "1": True, "n": False, "3": False, "x": None, "5": None}
IDLE_S = 60.0
GONE_HINT = "  y yes, p patches, n no, x unknown; 1 2 3 5"
FILM_HINT = "  y yes, n no, x not known; or 1, 3, 5"


class Rinse:
    """Asks whether the chromium is gone everywhere, then whether the film of water holds.

    Any other key drops the questions, and so does a minute without a key, so that keys mean keys
    again.
    """

    def __init__(self) -> None:
        self._question = ""
        self._gone: Gone | None = None
        self._touched_ns = 0

    @property
    def is_open(self) -> bool:
        """True while an answer is awaited."""
        return bool(self._question)

    def open(self, now_ns: int) -> None:
        """Ask the first question."""
        self._question, self._gone, self._touched_ns = GONE, None, now_ns

    def takes(self, key: str) -> bool:
        """Whether a key is an answer; one that is not drops the questions."""
        answers = GONE_ANSWERS if self._question == GONE else FILM_ANSWERS
        if self.is_open and key not in answers:
            self._question = ""
        return self.is_open

    def answer(self, key: str, now_ns: int) -> Outcome | None:
        """Take an answer; the outcome once both are given."""
        self._touched_ns = now_ns
        if self._question == GONE:
            self._gone, self._question = GONE_ANSWERS[key], FILM
            return None
        self._question = ""
        return Outcome(self._gone, FILM_ANSWERS[key])

    def expire(self, now_ns: int) -> None:
        """Drop questions that nobody answers."""
        if now_ns - self._touched_ns > IDLE_S * 1e9:
            self._question = ""

    @property
    def line(self) -> Line:
        """What the last row shows meanwhile."""
        hint = GONE_HINT if self._question == GONE else FILM_HINT
        return ((f" {self._question} ", Ink.ASKED), (hint, Ink.PLAIN))
