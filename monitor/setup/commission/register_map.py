"""Where the manual says volts and amps are, in; the registers around them, as blocks, out."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from drivers.errors import QuestionRefused
from drivers.modbus.register_question import MANUAL_BASES, MOST_REGISTERS, RegisterQuestion
from monitor.base.errors import WrongUse
from monitor.setup.commission.asking_registers import AskingRegisters, Block
from monitor.setup.commission.candidates import FUNCTIONS
from monitor.setup.commission.errors import NotCommissioned

_BEFORE, _BEHIND = 1, 2  # the register before, and a value of two registers that begins one behind
_WIDEST = 64


@dataclass(frozen=True, slots=True)
class ManualNumber:
    """A register's number as the manual prints it.

    Parameters
    ----------
    text
        As it was typed.
    address
        What it is on the wire, if the manual counts as it seems to.
    function
        The function that its form tells; None where it tells none.
    """

    text: str
    address: int
    function: int | None

    @property
    def words(self) -> str:
        """Both ways of counting."""
        return f"{self.text} in the manual, taken as wire address {self.address}"


def read_manual_number(text: str) -> ManualNumber:
    """Understand a register's number.

    Raises
    ------
    WrongUse

    Examples
    --------
    >>> read_manual_number("40001").address, read_manual_number("30011").function
    (0, 4)
    >>> read_manual_number("0x0100").address, read_manual_number("17").address
    (256, 17)
    """
    clean = text.strip().lower()
    if re.fullmatch(r"0x[0-9a-f]{1,4}|[0-9a-f]{1,4}h", clean):
        return ManualNumber(clean, int(clean.removeprefix("0x").removesuffix("h"), 16), None)
    if not re.fullmatch(r"[0-9]{1,6}", clean):
        raise WrongUse(f"register {text!r}: type its number in the manual, such as 40001 or 0x0100")
    number = int(clean)
    for function, bases in MANUAL_BASES.items():
        for base in bases:
            # A plain "17" may count from 0 or from 1: the register before is tried anyway.
            if base > 1 and len(clean) == len(str(base)) and base <= number < base + 0x10000:
                if base < 100_000 and number >= base + 9999:
                    continue
                return ManualNumber(clean, number - base, function)
    if number > 0xFFFF:
        raise WrongUse(f"register {text!r}: there is none of that number")
    return ManualNumber(clean, number, None)


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
