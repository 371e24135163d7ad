"""Reads the registers around the places that a manual names.

A manual may be one register off, so those before and behind are read, too.
"""

from collections.abc import Iterator, Sequence

from drivers.errors import QuestionRefused
from drivers.modbus.register_question import MOST_REGISTERS, RegisterQuestion
from monitor.setup.commission.asking_registers import AskingRegisters, Block
from monitor.setup.commission.candidates import FUNCTIONS
from monitor.setup.commission.errors import NotCommissioned

_BEFORE, _BEHIND = 1, 2  # the register before, and a value of two registers that begins one behind
_WIDEST = 64


def read_around(
    asking: AskingRegisters,
    unit: int,
    addresses: Sequence[int],
    functions: Sequence[int] = FUNCTIONS,
) -> list[Block]:
    """All that the unit gives around the addresses, each block from one request.

    A device that refuses a whole block is asked for less and less, down to one register.

    Raises
    ------
    NotCommissioned
        Where the unit does not answer, or gives nothing.
    """
    given: list[Block] = []
    refused: list[Block] = []
    for function in functions:
        blocks = _read_function(asking, unit, function, addresses)
        if blocks and not blocks[0].is_answered:
            raise NotCommissioned(
                f"unit {unit} does not answer: check its number, power and cable (A and B "
                "exchanged?), baud rate and parity; `bathvigil find --ask PORT --units 1-10` "
                "looks for it"
            )
        given += [block for block in blocks if block.values is not None]
        refused += [block for block in blocks if block.refusal is not None]
    if not given:
        codes = sorted({block.refusal for block in refused if block.refusal is not None})
        raise NotCommissioned(
            f"unit {unit} answers, but gives none of the registers around "
            f"{' and '.join(str(address) for address in addresses)} (exception "
            f"{', '.join(str(code) for code in codes)}): check the register numbers"
        )
    return given


def _read_function(
    asking: AskingRegisters, unit: int, function: int, addresses: Sequence[int]
) -> list[Block]:
    asked: list[Block] = []
    silent = 0
    for wider in _windows(addresses):
        got: list[Block] = []
        for first, count in wider:
            try:
                question = RegisterQuestion(unit, function, first, count)
            except QuestionRefused:
                continue
            block = asking.ask(question)
            if not block.is_answered and silent == 0:
                silent += 1
                block = asking.ask(question)
            asked.append(block)
            if not block.is_answered:
                return [block, *asked]
            got.append(block)
        if got and all(block.values is not None for block in got):
            break
    return asked


def _windows(addresses: Sequence[int]) -> Iterator[list[tuple[int, int]]]:
    """Blocks to ask for, from the widest to single registers."""
    spans = [(max(0, each - _BEFORE), min(0xFFFF, each + _BEHIND)) for each in addresses]
    first, last = min(low for low, _ in spans), max(high for _, high in spans)
    if last - first < min(_WIDEST, MOST_REGISTERS):
        yield [(first, last - first + 1)]
    yield [(low, high - low + 1) for low, high in spans]
    yield [(place, 2) for low, high in spans for place in range(low, high)]
    yield [(place, 1) for low, high in spans for place in range(low, high + 1)]
