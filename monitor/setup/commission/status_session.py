"""A status register, an open link and an operator who shows the supply's states in, `[status]` out.

The states are brought about on the supply's own panel; what nobody should bring about, a cut-out,
is taken from the manual.
"""

from dataclasses import dataclass
from typing import cast

from drivers.commissioned import Seen
from drivers.modbus.register_question import MANUAL_BASES, RegisterQuestion
from drivers.reading import Mode
from monitor.base.errors import WrongUse
from monitor.setup.commission.answers import Operator
from monitor.setup.commission.asking_registers import AskingRegisters
from monitor.setup.commission.candidates import Candidate
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.register_map import ManualNumber, read_manual_number
from monitor.setup.commission.states import (
    By,
    find_states,
    read_cut_out,
    read_states,
    what_was_read,
)
from monitor.setup.commission.toml_text import Document

READINGS = 3
"""In each state: a register that counts or blinks is none that tells a state."""


@dataclass(frozen=True, slots=True)
class StateAsked:
    """What the operator says of the state beforehand.

    Parameters
    ----------
    number
        The register's.
    modes
        What is shown, in order.
    by, cut_out
        What the manual says; None for nothing.
    """

    number: ManualNumber
    modes: tuple[Mode, ...]
    by: By | None
    cut_out: tuple[By, int] | None


def read_state_asked(operator: Operator) -> StateAsked | None:
    """Ask for all that can be known before the port is touched; None where no state is wanted.

    Raises
    ------
    WrongUse
    """
    at = operator.answer("status_at")
    if not at:
        return None
    by = operator.answer("status_by").strip().lower() or None
    if by not in (None, "values", "bits"):
        raise WrongUse(f"status by {by!r}: type values or bits")
    return StateAsked(
        read_manual_number(at),
        read_states(operator.answer("states")),
        cast(By | None, by),
        read_cut_out(operator.answer("cut_out_by")),
    )


def show_states(
    asking: AskingRegisters,
    unit: int,
    operator: Operator,
    asked: StateAsked,
    volts: Candidate,
    volts_number: ManualNumber,
) -> tuple[Document, list[Seen]]:
    """Read the register in each state that is shown; the table, and the raw replies.

    Parameters
    ----------
    volts
        What was found for the volts: the state's register is counted as they are.

    Raises
    ------
    NotCommissioned
        Where the register does not tell the states apart.
    DriverError
        Where the link fails.
    """
    place = asked.number
    is_alike = place.function in (None, volts_number.function)
    function = volts.function if is_alike or place.function is None else place.function
    question = RegisterQuestion(unit, function, place.address + volts.offset, 1)
    read: dict[Mode, list[int]] = {}
    seen: list[Seen] = []
    for number, mode in enumerate(asked.modes, 1):
        operator.set_state(mode.word, number, len(asked.modes))
        for _ in range(READINGS):
            block = asking.ask(question)
            if block.values is None:
                raise NotCommissioned(
                    f"register {place.text} ({place.words}) is not given: check its number, or "
                    "leave the state out"
                )
            read.setdefault(mode, []).append(block.values[0])
        told = f"unit {unit}, {question.words}"
        seen.append(Seen(told, block.raw.hex(" "), mode.word))
    operator.tell(f"state, as register {place.text} tells it:\n  {what_was_read(read)}")
    said = find_states(read, asked.by, asked.cut_out)
    if Mode.CUT_OUT not in read and asked.cut_out is not None:
        operator.tell("the cut-out is taken from the manual: it was not shown")
    table: Document = {
        "function": question.function,
        "address": question.address,
        "manual": MANUAL_BASES[question.function][0] + question.address,
        **said,
        "source": f"{operator.answer('source')}: register {place.text}",
    }
    return table, seen
