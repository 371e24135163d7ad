"""The answers of one poll, held against each other: could one be that to another question?

Numbered rules, each with its test:

1. An answer that is, byte for byte, that to another question just before it may be that answer
   again: it is asked for once more, and the second one counts.
2. Where an answer could be that to another question of the poll, the order is proven before any of
   them is used (`Conversation.prove_order`).
3. Answers that do not fit each other's form prove themselves: nothing more is asked.
4. Where a line came too many between two of the answers, the first of them may be an older one:
   none is used.
5. An answer that is alone in its poll, the same as in the poll before, and slower than that may be
   that one, given twice: its order is proven, too.
6. Once something has come that nobody asked for, answers may come twice on this link: the order
   of the polls that follow is proven, whatever their answers look like.
"""

from collections import deque
from collections.abc import Callable
from itertools import permutations
from typing import TypeVar

from drivers.errors import GarbledAnswer, NotUnderstood
from drivers.text.conversation import Conversation
from drivers.text.text_question import TextQuestion

T = TypeVar("T")

_KEPT = 3
SLOWER, SLOWER_NS = 2, 10_000_000
"""Rule 5: as many times as long as the answer before, and by as much."""

_Understands = Callable[[str], object]


class Exchanges:
    """Asks the questions of one poll after the other.

    Parameters
    ----------
    conversation
        Open.
    """

    def __init__(self, conversation: Conversation) -> None:
        self.conversation = conversation
        self.began_ns = 0
        self.ended_ns = 0
        self._breaks = 0
        self._asked: list[tuple[TextQuestion, _Understands, str]] = []
        self._before: deque[tuple[TextQuestion, str]] = deque(maxlen=_KEPT)
        self._last: tuple[str, int] | None = None

    def begin(self) -> None:
        """Begin another poll."""
        self._asked.clear()

    def ask(self, question: TextQuestion, understand: Callable[[str], T]) -> tuple[T, str]:
        """What one answer says, and its text; raises as `Conversation.ask` does."""
        conversation = self.conversation
        value, text = conversation.ask(question, lambda text: (understand(text), text))
        if not self._asked:
            self._breaks = conversation.breaks
        self._refuse_a_break()
        if any(text == other and question != asked for asked, other in self._before):
            value, text = conversation.ask(question, lambda text: (understand(text), text))
        if not self._asked:
            self.began_ns = conversation.sent_ns
        self.ended_ns = conversation.clock.monotonic_ns()
        self._asked.append((question, understand, text))
        self._before.append((question, text))
        return value, text

    def prove(self) -> None:
        """Make sure that none of them was the answer to another question.

        Raises
        ------
        GarbledAnswer, NoAnswer, Reopen
        """
        self._refuse_a_break()
        if self.conversation.proofs_left:
            self.conversation.proofs_left -= 1
            self.conversation.prove_order()
            return
        if len(self._asked) == 1 and self._may_be_given_twice(self._asked[0][2]):
            self.conversation.prove_order()
            return
        for (_, understand, _), (_, _, text) in permutations(self._asked, 2):
            try:
                understand(text)
            except NotUnderstood:
                continue
            self.conversation.prove_order()
            return

    def _may_be_given_twice(self, text: str) -> bool:
        took_ns = self.ended_ns - self.began_ns
        last, self._last = self._last, (text, took_ns)
        return last is not None and text == last[0] and took_ns > SLOWER * last[1] + SLOWER_NS

    def _refuse_a_break(self) -> None:
        if self.conversation.breaks != self._breaks:
            raise GarbledAnswer(
                f"{self.conversation.who}: a line came too many between two answers: neither is "
                "used"
            )
