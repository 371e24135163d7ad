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
_MOST_SILENCES = 6
"""A device that is silent where others refuse is asked for no more than this in vain."""


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
    asked: list[Block] = []
    for function in functions:
        asked += _read_function(asking, unit, function, addresses)
    given = [block for block in asked if block.values is not None]
    if given:
        return given
    places = " and ".join(str(address) for address in addresses)
    codes = sorted({block.refusal for block in asked if block.refusal is not None})
    refused = ", ".join(f"{code:02X}" for code in codes)
    if any(block.is_answered for block in asked):
        raise NotCommissioned(
            f"unit {unit} answers, but gives none of the registers around {places} (exception "
            f"{refused}): check the register numbers"
        )
    if codes:
        raise NotCommissioned(
            f"a gateway answers, but says that no unit {unit} answers behind it (exception "
            f"{refused}): check the unit number, the supply's power and its cable"
        )
    raise NotCommissioned(
        f"unit {unit} does not answer: check its number, power and cable (A and B "
        "exchanged?), baud rate and parity; `bathvigil find --ask PORT --units 1-10` "
        "looks for it"
    )


def _read_function(
    asking: AskingRegisters, unit: int, function: int, addresses: Sequence[int]
) -> list[Block]:
    # What the manual names, first: some devices say nothing to what they do not have.
    named = [RegisterQuestion(unit, function, address, 1) for address in addresses]
    asked = [asking.ask(question) for question in named]
    if not any(block.is_answered for block in asked):
        asked += [asking.ask(question) for question in named[:1]]
    if not any(block.is_answered for block in asked):
        return asked
    silences = 0
    for window in _windows(addresses):
        got: list[Block] = []
        for first, count in window:
            try:
                question = RegisterQuestion(unit, function, first, count)
            except QuestionRefused:
                continue
            got.append(asking.ask(question))
            silences += not got[-1].is_answered
            if silences > _MOST_SILENCES:
                return [*asked, *got]
        if got and all(block.values is not None for block in got):
            return got
        asked += got
    return asked


def _windows(addresses: Sequence[int]) -> Iterator[list[tuple[int, int]]]:
    """Blocks to ask for, from the widest to single registers."""
    spans = [(max(0, each - _BEFORE), min(0xFFFF, each + _BEHIND)) for each in addresses]
    first, last = min(low for low, _ in spans), max(high for _, high in spans)
    if last - first < min(_WIDEST, MOST_REGISTERS):
        yield [(first, last - first + 1)]
    yield [(low, high - low + 1) for low, high in spans]
    yield [(each, 2) for each in addresses]
    yield [(place, 2) for low, high in spans for place in range(low, high)]
    yield [(place, 1) for low, high in spans for place in range(low, high + 1)]
