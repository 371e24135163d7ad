"""Looks for Modbus units on one link: in which framing they speak, and which of them are there.

A unit is there if it gives a register, or refuses it by a code of its own. A gateway that says that
nothing answers behind it, and a server that fails for a unit that it does not have, are none.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Protocol

from drivers.errors import BadAddress, Reopen
from drivers.modbus.register_question import READ_FUNCTIONS, RegisterQuestion
from monitor.setup.commission.asking_registers import AskingRegisters, Block

_FAILURE = 4
"""Some servers say this of a unit that they do not have, others of a register."""
_OTHER_REGISTERS = (0, 1)


class OpensAsking(Protocol):
    """Opens the link anew, for one framing."""

    def __call__(self, framing: str) -> AbstractContextManager[AskingRegisters]: ...


@dataclass(frozen=True, slots=True)
class UnitAnswer:
    """One unit that is there, and its best answer."""

    framing: str
    unit: int
    block: Block


def find_units(
    opened: OpensAsking, framings: Sequence[str], units: Iterable[int]
) -> list[UnitAnswer]:
    """The units that are there, in the first framing in which any answers.

    Raises
    ------
    DriverError
        Where the link cannot be opened.
    """
    wanted = list(units)
    for framing in framings:
        try:
            with opened(framing) as asking:
                answers = [
                    UnitAnswer(framing, unit, block)
                    for unit in wanted
                    if (block := _answer_of(asking, unit)) is not None
                ]
        except BadAddress:
            if framing == framings[0]:
                raise
            continue  # an adapter that does not take seven bits has no ASCII framing
        alive = [each for each in answers if each.block.refusal != _FAILURE]
        if answers:
            return alive or answers
    return []


def _answer_of(asking: AskingRegisters, unit: int) -> Block | None:
    """The best answer of a unit: registers before a refusal; None where it is not there."""
    refused: Block | None = None
    for question in _questions(unit, asking.framing):
        try:
            block = asking.ask(question)
        except Reopen:
            # Some devices hang up where they do not understand; the next framing opens anew.
            return refused
        if block.values is not None:
            return block
        if block.is_answered:
            refused = block
        elif block.raw:
            return None  # a gateway speaks for it
        elif refused is None and question.function == READ_FUNCTIONS[1]:
            break
    return refused


def _questions(unit: int, framing: str) -> Iterator[RegisterQuestion]:
    if unit == 0 and framing != "tcp":
        return
    for address in _OTHER_REGISTERS:
        for function in READ_FUNCTIONS:
            yield RegisterQuestion(unit, function, address, 1)
