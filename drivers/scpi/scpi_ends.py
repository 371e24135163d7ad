"""Finds out how the questions and the answers of a supply end.

Each end is tried twice: what a trial with the wrong end has left in the supply's ear is over after
the first. Where bytes come, but no end behind them, it is tried twice more. Answers may end as
they like (`line_buffer.py`), or with nothing but a silence; then each message is joined with the
sentinel, so that only the sentinel's known answer ends a whole one.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from drivers.errors import GarbledAnswer, NoAnswer, NotUnderstood, QuestionRefused, SupplySilent
from drivers.number import Number
from drivers.scpi.scpi_description import ScpiDescription
from drivers.scpi.scpi_round import Asked, Message, together
from drivers.text.answer import read_supply_error
from drivers.text.conversation import Conversation
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.text_question import ENDS

V = TypeVar("V")

TRIES = 2
IDLE_S = 0.05


@dataclass(frozen=True, slots=True)
class Whole(Generic[V]):
    """The sentinel at the end of a message: its known answer proves that nothing was cut off.

    Parameters
    ----------
    words
        The known answer.
    stand_in
        What stands in the place of its value.
    """

    question: ScpiQuestion
    words: str
    stand_in: V

    def understand(self, text: str) -> V:
        """Nothing but the known answer passes; raises `NotUnderstood`."""
        if text != self.words:
            raise NotUnderstood("the sentinel at its end is not whole")
        return self.stand_in


def with_ends(description: ScpiDescription, ends_with: str) -> ScpiDescription:
    """The same questions, each ended so."""

    def ended(question: ScpiQuestion) -> ScpiQuestion:
        return ScpiQuestion(question.text, ends_with)

    identity = description.identity
    return replace(
        description,
        identity=None if identity is None else ended(identity),
        sentinel=ended(description.sentinel),
        quantities=tuple(
            replace(each, question=ended(each.question)) for each in description.quantities
        ),
        registers=tuple(
            replace(each, question=ended(each.question)) for each in description.registers
        ),
        on_open=tuple(ended(each) for each in description.on_open),
        ends_with=ends_with,
    )


def find_ends(conversation: Conversation, description: ScpiDescription) -> ScpiDescription:
    """The description with the end that the supply understands; the conversation's idle time set.

    Raises
    ------
    SupplySilent
        Where none is understood.
    """
    failure: Exception | None = None
    for ends_with in ENDS:
        tried = with_ends(description, ends_with)
        conversation.idle_s = None
        unended = b""
        for number in range(2 * TRIES):
            if number >= TRIES and not unended:
                break
            try:
                text = conversation.ask_unproven(tried.sentinel)
            except (NoAnswer, SupplySilent) as error:
                failure = failure or error
            except GarbledAnswer as error:
                failure = error
                # The same text twice, and no end behind it: so it ends with a silence.
                if unended and conversation.unended == unended:
                    conversation.idle_s = IDLE_S
                unended = conversation.unended
            else:
                if read_supply_error(text) is None:
                    return tried
    conversation.idle_s = None
    if isinstance(failure, GarbledAnswer):
        raise failure
    raise SupplySilent(
        f"{conversation.who}: asked {description.sentinel.text}, ended in each way that there is "
        f"({', '.join(ENDS)}), nothing came: check that the supply is on, its cable and its baud "
        "rate"
    ) from failure


def proven(
    parts: Sequence[Asked[V]], sentinel: ScpiQuestion, words: str, stand_in: V
) -> tuple[Message[V], ...]:
    """All in one message that ends with the sentinel; none for no parts, or for too many."""
    if not parts:
        return ()
    try:
        return together([*parts, Whole(sentinel, words, stand_in)], sentinel.ends_with)
    except QuestionRefused:
        return ()


def all_questions(description: ScpiDescription) -> tuple[ScpiQuestion, ...]:
    """Every message that the driver can ever send by this description."""
    ends = ENDS if description.finds_ends else (description.ends_with,)
    return tuple(question for each in ends for question in _ended_so(with_ends(description, each)))


def _ended_so(description: ScpiDescription) -> Iterator[ScpiQuestion]:
    registers, ends_with = description.registers, description.ends_with
    quantities, sentinel = description.quantities, description.sentinel
    yield sentinel
    if description.identity is not None:
        yield description.identity
    yield from (quantity.question for quantity in quantities)
    yield from description.on_open
    # A temperature, and registers that a supply does not know, are left out of the joined ones.
    for count in (2, len(quantities)):
        for message in together(quantities[:count], ends_with):
            yield message.question
        for message in proven(quantities[:count], sentinel, "", Number(None)):
            yield message.question
    for chosen in range(1, 1 << len(registers)):
        subset = [each for bit, each in enumerate(registers) if chosen >> bit & 1]
        for register_message in (
            *together(subset, ends_with),
            *proven(subset, sentinel, "", 0),
        ):
            yield register_message.question
