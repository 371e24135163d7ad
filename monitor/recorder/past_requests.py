"""The operator's requests of a stored run, carried out again at their times.

Whoever watches a run's rows again must confirm what was confirmed and take the job cards that were
taken; else the end of the strip and the step's limits come out differently.
"""

from collections import deque
from collections.abc import Iterable

from monitor.model.card_text import card_from_text
from monitor.model.request import Request, RequestKind
from monitor.watch.vigil import Vigil


class PastRequests:
    """The requests that change what a vigil says of later rows, oldest first.

    Parameters
    ----------
    requests
        Those of the run. A step that no recorder took up was not gone; a card holds all the same.
    """

    def __init__(self, requests: Iterable[Request]) -> None:
        self._waiting = deque(
            request
            for request in requests
            if request.kind is RequestKind.JOB_CARD
            or (request.kind is RequestKind.NEXT_STEP and request.outcome is not None)
        )

    def pass_over(self, utc_ns: int) -> None:
        """Leave out what was asked before this moment."""
        while self._waiting and self._waiting[0].utc_ns < utc_ns:
            self._waiting.popleft()

    def do(self, vigil: Vigil, until_utc_ns: int) -> None:
        """Do what was asked up to this moment."""
        while self._waiting and self._waiting[0].utc_ns <= until_utc_ns:
            request = self._waiting.popleft()
            if request.kind is RequestKind.NEXT_STEP:
                vigil.next_step(request.detail)
            elif (card := card_from_text(request.detail)) is not None:
                vigil.take_card(card)
