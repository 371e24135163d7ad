"""Finds what a status register means: the `[status]` of a description.

The operator brings the states about on the supply's own panel. A cut-out, which nobody should bring
about, is taken from the manual.
"""

from typing import cast

from drivers.commissioned import Seen
from drivers.modbus.register_question import MANUAL_BASES, RegisterQuestion
from drivers.output import believed
from drivers.reading import Mode
from monitor.setup.commission.asking_registers import AskingRegisters
from monitor.setup.commission.candidates import Candidate, Pair
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.manual_number import ManualNumber, read_manual_number
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.questionnaire import Answers, ratings_of
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


def show_states(
    asking: AskingRegisters,
    unit: int,
    answers: Answers,
    operator: Operator,
    pair: Pair,
    volts_number: ManualNumber,
) -> tuple[Document, list[Seen]]:
    """Read the register in each state that is shown; the table, and the raw replies.

    Parameters
    ----------
    answers
        With a register in `status_at`.
    pair
        How volts and amps are read: the state's register is counted in the same way, and a state
        that they contradict is refused.

    Raises
    ------
    NotCommissioned
        Where the register does not tell the states apart, or the supply is in another state than
        was asked for.
    DriverError
        Where the link fails.
    """
    volts = pair.volts
    place = read_manual_number(answers["status_at"])
    modes, cut_out = read_states(answers["states"]), read_cut_out(answers["cut_out_by"])
    is_alike = place.function in (None, volts_number.function)
    function = volts.function if is_alike or place.function is None else place.function
    question = RegisterQuestion(unit, function, place.address + volts.offset, 1)
    read: dict[Mode, list[int]] = {}
    seen: list[Seen] = []
    for number, mode in enumerate(modes, 1):
        operator.set_state(mode.word, number, len(modes))
        _refuse_a_contradiction(asking, unit, pair, mode, ratings_of(answers).get("amps"))
        for _ in range(READINGS):
            block = asking.ask(question)
            if block.values is None:
                raise NotCommissioned(
                    f"register {place.text} ({place.words}) is not given: check its number, or "
                    "leave the state out"
                )
            read.setdefault(mode, []).append(block.values[0])
        asked = f"unit {unit}, {question.words}"
        seen.append(Seen(asked, block.raw.hex(" "), mode.word))
    operator.tell(f"state, as register {place.text} tells it:\n  {what_was_read(read)}")
    meanings = find_states(read, cast(By | None, answers["status_by"] or None), cut_out)
    if Mode.CUT_OUT not in read and cut_out is not None:
        operator.tell("the cut-out is taken from the manual: it was not shown")
    table: Document = {
        "function": question.function,
        "address": question.address,
        "manual": MANUAL_BASES[question.function][0] + question.address,
        **meanings,
        "source": f"{answers['source']}: register {place.text}",
    }
    return table, seen


def _refuse_a_contradiction(
    asking: AskingRegisters, unit: int, pair: Pair, mode: Mode, rated_amps: float | None
) -> None:
    volts, amps = (_value(asking, unit, candidate) for candidate in (pair.volts, pair.amps))
    if believed(mode, volts, amps, rated_amps) is not mode:
        raise NotCommissioned(
            f"the supply should be {mode.word} now, but gives {volts:g} V and {amps:g} A: set it "
            "to that state on its own panel, or leave the state out"
        )


def _value(asking: AskingRegisters, unit: int, candidate: Candidate) -> float | None:
    form = candidate.form
    question = RegisterQuestion(unit, candidate.function, candidate.address, form.width)
    values = asking.ask(question).values
    return None if values is None else form.read(values).value
