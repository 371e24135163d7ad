"""Which Modbus units are there: in every framing, by both functions, and behind gateways."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from drivers.modbus.modbus_codec import Refusal
from drivers.modbus.register_question import RegisterQuestion
from monitor.setup.commission.asking_registers import Block
from monitor.setup.commission.units_search import find_units

Says = dict[tuple[str, int, int], tuple[int, ...] | int]
"""By framing, unit and function: registers, or the code of a refusal."""


class Asking:
    """Answers from a table; what is not there is silence."""

    def __init__(self, framing: str, says: Says) -> None:
        self.framing = framing
        self.says = says
        self.asked: list[RegisterQuestion] = []

    def ask(self, question: RegisterQuestion) -> Block:
        self.asked.append(question)
        said = self.says.get((self.framing, question.unit, question.function))
        if said is None:
            return Block(question, None, None, b"")
        if isinstance(said, int):
            return Block(question, None, Refusal(said).code, b"\x83")
        return Block(question, said, None, b"\x03")


def found(says: Says, framings: tuple[str, ...] = ("tcp", "rtu", "ascii")) -> list[tuple[str, int]]:
    @contextmanager
    def opened(framing: str) -> Iterator[Asking]:
        yield Asking(framing, says)

    answers = find_units(opened, framings, range(1, 6))  # type: ignore[arg-type]  # only asks
    return [(answer.framing, answer.unit) for answer in answers]


@pytest.mark.parametrize("framing", ["tcp", "rtu", "ascii"])
@pytest.mark.parametrize("function", [3, 4])
def test_a_unit_is_found_by_either_function_in_any_framing(framing: str, function: int) -> None:
    assert found({(framing, 2, function): (7,)}) == [(framing, 2)]


def test_a_refusal_of_its_own_is_an_answer() -> None:
    assert found({("rtu", 3, 3): 2}) == [("rtu", 3)]


# V1.1b3, 7: 0A and 0B are a gateway's own codes.
@pytest.mark.parametrize("code", [0x0A, 0x0B])
def test_a_unit_that_only_a_gateway_answers_for_is_not_there(code: int) -> None:
    says: Says = {("tcp", unit, function): code for unit in range(1, 6) for function in (3, 4)}
    says["tcp", 4, 3] = (7,)
    assert found(says) == [("tcp", 4)]
    del says["tcp", 4, 3]
    says["tcp", 4, 3] = code
    assert found(says) == []


def test_a_server_that_fails_for_units_it_does_not_have_is_told_from_those() -> None:
    says: Says = {("tcp", unit, function): 4 for unit in range(1, 6) for function in (3, 4)}
    says["tcp", 2, 3] = (7,)
    assert found(says) == [("tcp", 2)]
