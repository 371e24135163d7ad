"""The operator during a session: turns the supply's knobs, and types what its panel shows."""

from collections.abc import Iterator, Sequence
from typing import Protocol

from monitor.setup.commission.panel import Panel
from monitor.setup.commission.questionnaire import Answers, Question

SETTINGS = 2
"""One setting proves nothing: many ways to read an answer fit it."""


class Operator(Protocol):
    """A person at the terminal, or one whose answers were prepared."""

    def settings(self, names: Sequence[str]) -> Iterator[Panel]:
        """Have the volts turned `SETTINGS` times; what the panel shows of these quantities."""
        ...

    def set_state(self, words: str, number: int, of: int) -> None:
        """Have the supply brought into a state, such as "output-off", the number-th of so many."""
        ...

    def choose(self, words: str, options: Sequence[str]) -> int | None:
        """Several things fit: which one it is, counted from 0; None to give up."""
        ...

    def link_is_back(self, why: str) -> bool:
        """The link failed: wait until it can be opened again; False to give up."""
        ...

    def type_in(self, question: Question) -> str:
        """One more answer, which turned out to be needed; "" where nobody is there."""
        ...

    def narrow(self, why: str) -> Answers | None:
        """Several ways fit: one more fact of the manual, by its key; None to give up."""
        ...

    def tell(self, text: str) -> None:
        """Show something."""
        ...
