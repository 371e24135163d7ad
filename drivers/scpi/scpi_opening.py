"""What is asked at an opening: who answers, and which questions the supply knows."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TypeVar

from drivers.base.inert import inert
from drivers.errors import (
    AskAgain,
    BadDescription,
    GarbledAnswer,
    NotUnderstood,
    SupplyRefused,
    SupplyUnreadable,
    WrongSupply,
)
from drivers.link_driver import another_supply
from drivers.number import Number
from drivers.reading import Identity
from drivers.scpi.scpi_description import ScpiDescription, StatusRegister
from drivers.scpi.scpi_ends import proven
from drivers.scpi.scpi_round import Message, apart, together
from drivers.text.answer import SupplyError, read_supply_error
from drivers.text.conversation import Conversation
from drivers.text.scpi_question import ScpiQuestion

V = TypeVar("V")

QUANTITIES = ("volts", "amps", "celsius")
SAME_ANSWER_TRIES = 2
ERROR_QUEUE_LIMIT = 20


@dataclass(frozen=True, slots=True)
class Known:
    """Who answered at an opening, in its own words: what must come back at the next one."""

    sentinel: str
    identity: str | None


@dataclass(frozen=True, slots=True)
class Manner:
    """Which of the description's questions the supply answers, and how they are joined.

    Parameters
    ----------
    values
        The messages for volts, amps and celsius, in this order.
    registers, status
        The status registers that it has, and the messages for them.
    on_open
        The questions for each opening that it answers.
    """

    values: tuple[Message[Number], ...]
    registers: tuple[StatusRegister, ...]
    status: tuple[Message[int], ...]
    on_open: tuple[ScpiQuestion, ...]


def learn_who(
    conversation: Conversation, description: ScpiDescription, before: Known | None
) -> Known:
    """Ask who answers, and make its words the sentinel.

    Raises
    ------
    WrongSupply
        Where other words come than those known before, again and again.
    BadDescription
        Where the sentinel's answer could be taken for a measured value.
    Reopen, AskAgain
        Where nobody answers, or nothing that holds.
    """
    expected = None if before is None else before.sentinel
    words = _same_answer(conversation, description.sentinel, expected)
    _refuse_like_a_value(conversation.who, description, words)
    conversation.set_sentinel(description.sentinel, words)
    if description.identity is None:
        identity = None
    elif description.identity == description.sentinel:
        identity = words
    else:
        identity = conversation.ask(description.identity, str)
    known = Known(words, identity)
    if before is not None and known != before:
        raise another_supply(
            conversation.who, before.identity or before.sentinel, identity or words
        )
    return known


def read_identity(known: Known, description: ScpiDescription, serial: str | None) -> Identity:
    """The identity in words that are safe to show.

    Its serial number is the third of the four fields of IEEE 488.2-1992, 10.14 (clause from
    memory); there "0" means that there is none.

    Parameters
    ----------
    serial
        The serial number that it must have; None where any will do.

    Raises
    ------
    WrongSupply
    """
    text = known.identity if known.identity is not None else description.heading.title
    fields = [field.strip() for field in (known.identity or "").split(",")]
    number = fields[2] if len(fields) == 4 and fields[2] not in ("", "0") else None
    if serial is not None and number != serial:
        raise WrongSupply(
            f"the settings want serial number {inert(serial)!r}, {inert(text)!r} answers: "
            "connect the right supply, or correct the settings"
        )
    return Identity(inert(text), None if number is None else inert(number))


def learn_manner(conversation: Conversation, description: ScpiDescription, known: Known) -> Manner:
    """Try each question that the supply need not have, once; go on with those it answers."""
    description = _with_or_without_celsius(conversation, description)
    if conversation.idle_s is not None:
        return _manner_without_ends(conversation, description, known.sentinel)
    ends_with = description.ends_with
    registers = tuple(
        message.parts[0]
        for message in apart(description.registers)
        if _is_answered(conversation, message)
    )
    values = together(description.quantities, ends_with)
    if description.together == "never" or (
        description.together == "if-answered" and not _is_answered(conversation, values[0])
    ):
        values = apart(description.quantities)
    kept = tuple(each for each in description.registers if each in registers)
    status = together(kept, ends_with)
    if len(values) > 1 or (len(kept) > 1 and not _is_answered(conversation, status[0])):
        status = apart(kept)
    return Manner(values, kept, status, description.on_open)


def _with_or_without_celsius(
    conversation: Conversation, description: ScpiDescription
) -> ScpiDescription:
    """Without a temperature that need not be there, where the supply gives no number for it."""
    if not description.celsius_is_optional or len(description.quantities) < len(QUANTITIES):
        return description
    celsius = description.quantities[2]
    (message,) = apart([celsius])
    if _is_answered(conversation, message):
        with suppress(AskAgain):
            if conversation.ask(celsius.question, celsius.understand).value is not None:
                return description
    return replace(description, quantities=description.quantities[:2])


def _manner_without_ends(
    conversation: Conversation, description: ScpiDescription, words: str
) -> Manner:
    """Each message ends with the sentinel: answers end with nothing but a silence."""
    sentinel = description.sentinel
    values = proven(description.quantities, sentinel, words, Number(None, "no value"))
    if not _is_answered(conversation, values[0]):
        conversation.idle_s = None
        raise SupplyUnreadable(
            f"{conversation.who}: its answers have no end, and it does not answer "
            f"{values[0].question.text}: nobody could tell a whole answer from one cut short; "
            "describe it as kind 'lines', with patterns of fixed length"
        )
    status = proven(description.registers, sentinel, words, 0)
    kept = description.registers
    if status and not _is_answered(conversation, status[0]):
        kept, status = (), ()
    return Manner(values, kept, status, description.on_open)


def ask_on_open(
    conversation: Conversation, questions: Sequence[ScpiQuestion]
) -> tuple[tuple[ScpiQuestion, ...], tuple[SupplyError, ...]]:
    """Ask what is asked at each opening; which questions were answered, and what errors stood.

    An error queue is read until it is empty, repeats itself, or `ERROR_QUEUE_LIMIT` is reached.
    """
    answered: list[ScpiQuestion] = []
    errors: list[SupplyError] = []
    for question in questions:
        try:
            if question.text.startswith("SYST:ERR"):
                errors += _empty_queue(conversation, question)
            else:
                conversation.ask(question, str)
        except AskAgain:
            with suppress(AskAgain):  # the supply is known by now: the next poll tries again
                conversation.settle()
        else:
            answered.append(question)
    return tuple(answered), tuple(errors)


def _same_answer(conversation: Conversation, question: ScpiQuestion, expected: str | None) -> str:
    """The answer that is as expected, or else comes again and again: noise does not repeat itself.

    Without an expectation it must come twice in a row; against one, four times.
    """
    failure: GarbledAnswer | None = None
    stranger = text = ""
    for _ in range(SAME_ANSWER_TRIES):
        try:
            text = _words(conversation, question)
            if text == expected:
                return text
            if text == _words(conversation, question) and (expected is None or text == stranger):
                return text
            stranger = text
        except GarbledAnswer as error:
            failure = error
        conversation.distrust()
    if failure is not None:
        raise failure
    raise SupplyUnreadable(
        f"{conversation.who}: asked {question.text} again and again, got another answer each "
        f"time, such as {inert(text)!r}: check baud rate and wiring, or name a [sentinel] in the "
        "supply's description that has the same answer each time"
    )


def _words(conversation: Conversation, question: ScpiQuestion) -> str:
    text = conversation.ask_unproven(question)
    if read_supply_error(text) is not None:
        raise GarbledAnswer(
            f"{conversation.who}: asked {question.text}, the supply reports {inert(text)!r}: "
            "leave [identity] out of its description, and name a [sentinel] that it answers"
        )
    return text


def _refuse_like_a_value(who: str, description: ScpiDescription, words: str) -> None:
    messages: list[Message[Number] | Message[int]] = [
        *apart(description.quantities),
        *together(description.quantities, description.ends_with),
        *apart(description.registers),
        *together(description.registers, description.ends_with),
    ]
    for message in messages:
        try:
            message.understand(words)
        except NotUnderstood:
            continue
        raise BadDescription(
            f"{who}: {description.sentinel.text} is answered by {inert(words)!r}, which could be "
            f"taken for the answer to {message.question.text}: name another question with the "
            "same answer each time as [sentinel] in the supply's description"
        )


def _is_answered(conversation: Conversation, message: Message[V]) -> bool:
    for _ in range(2):
        conversation.settle()
        tally = conversation.tally
        came = tally.late + tally.garbled
        try:
            conversation.ask(message.question, message.understand)
        except SupplyRefused:
            conversation.settle()
            return False
        except AskAgain:
            conversation.settle()
            if tally.late + tally.garbled == came:
                return False  # not a byte came: it does not know the question
        else:
            return True
    return False


def _empty_queue(conversation: Conversation, question: ScpiQuestion) -> list[SupplyError]:
    errors: list[SupplyError] = []
    for _ in range(ERROR_QUEUE_LIMIT):
        error = conversation.ask(question, _understand_error)
        if error.code == 0 or error in errors[-1:]:
            break
        errors.append(error)
    return errors


def _understand_error(text: str) -> SupplyError:
    error = read_supply_error(text)
    if error is None:
        raise NotUnderstood("not an entry of an error queue")
    return SupplyError(error.code, inert(error.text))
