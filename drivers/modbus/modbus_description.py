"""The description of a Modbus supply or meter: a TOML file in, checked registers and blocks out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import cast

from drivers.description import Heading, open_description
from drivers.errors import BadDescription
from drivers.modbus.register_question import MANUAL_BASES, MOST_REGISTERS
from drivers.modbus.register_value import ORDERS, TYPES, ByteOrder, RegisterForm, RegisterType
from drivers.mode_bits import StatusWord, read_status_word
from drivers.toml_table import TomlTable

LONGEST_IDENTITY = 64
WIDEST_BRIDGE = 16
"""Registers that nobody asked for are read along if that keeps volts and amps in one block, up to
this many in a row."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: the function that reads it, and its registers on the wire."""

    function: int
    address: int
    count: int

    @property
    def end(self) -> int:
        """The first register behind it."""
        return self.address + self.count

    @property
    def words(self) -> str:
        """With both ways of counting, such as "function 3, address 0 (40001 in a manual)"."""
        manual = MANUAL_BASES[self.function][0] + self.address
        return f"function {self.function}, address {self.address} ({manual} in a manual)"


@dataclass(frozen=True, slots=True)
class RegisterQuantity:
    """One value: "volts", "amps", "celsius" or "status", where it stands and what it means."""

    name: str
    place: Place
    form: RegisterForm
    source: str


@dataclass(frozen=True, slots=True)
class Block:
    """Registers that are read in one request, and the quantities in them."""

    place: Place
    quantities: tuple[RegisterQuantity, ...]

    @property
    def is_needed(self) -> bool:
        """True where volts or amps are in it."""
        return any(quantity.name in ("volts", "amps") for quantity in self.quantities)

    def registers_of(self, quantity: RegisterQuantity, values: Sequence[int]) -> Sequence[int]:
        """A quantity's own registers out of the block's."""
        start = quantity.place.address - self.place.address
        return values[start : start + quantity.place.count]


@dataclass(frozen=True, slots=True)
class ModbusDescription:
    """How one model is read.

    Parameters
    ----------
    volts, amps, celsius, status
        The quantities; None for those that it does not have.
    status_word
        What the status says; None where there is none.
    identity
        Registers that hold the same for as long as it is the same instrument; None for none.
    identity_is_text
        They are characters; else they are shown as they are.
    blocks
        What is read at each poll, in order: one block, unless the registers lie too far apart.
    apart
        The same, each quantity in a request of its own: for a device that refuses the blocks.
        Empty where that cannot be.
    sentinel
        What is read after trouble; no other request has a reply of the same length.
    quiet_s
        The least silence between two frames, above the standard's own.
    """

    heading: Heading
    volts: RegisterQuantity
    amps: RegisterQuantity
    celsius: RegisterQuantity | None
    status: RegisterQuantity | None
    status_word: StatusWord | None
    identity: Place | None
    identity_is_text: bool
    blocks: tuple[Block, ...]
    apart: tuple[Block, ...]
    sentinel: Place
    quiet_s: float
    answer_within_s: float | None

    @property
    def quantities(self) -> tuple[RegisterQuantity, ...]:
        """All that there are."""
        given = (self.volts, self.amps, self.celsius, self.status)
        return tuple(each for each in given if each is not None)

    @property
    def places(self) -> tuple[Place, ...]:
        """Every request that the driver can ever make by this description."""
        blocks = chain(self.blocks, self.apart)
        identity = () if self.identity is None else (self.identity,)
        return (*identity, self.sentinel, *(block.place for block in blocks))


def load_modbus_description(name: str) -> ModbusDescription:
    """Read a description of kind "modbus".

    Raises
    ------
    BadDescription
        Naming the file and the key.

    Examples
    --------
    >>> meter = load_modbus_description("modbus-shunt-meter")
    >>> [block.place.words for block in meter.blocks]
    ['function 4, address 0 (30001 in a manual)']
    """
    heading, top = open_description(name, "modbus")
    talk = top.table("talk")
    most = talk.whole_number("most_registers", MOST_REGISTERS, 1, MOST_REGISTERS)
    bridges = talk.yes_or_no("bridge_gaps", True)
    quiet_s = talk.number("quiet_ms", 0.0, 0.0, 500.0) / 1000
    within_s = talk.optional_number("answer_within_s", least=0.01, most=30.0)
    talk.refuse_the_rest()
    volts, amps = _quantity(top, "volts", most), _quantity(top, "amps", most)
    celsius = _quantity(top, "celsius", most) if "celsius" in top else None
    status = status_word = None
    if "status" in top:
        table = top.table("status")
        status_word = read_status_word(table)
        status = _quantity_in(table, "status", most)
        table.refuse_the_rest()
    identity, is_text = _identity(top, most)
    top.refuse_the_rest()
    quantities = tuple(each for each in (volts, amps, status, celsius) if each is not None)
    apart = tuple(Block(quantity.place, (quantity,)) for quantity in quantities)
    plan = _Plan(name, most)
    return ModbusDescription(
        heading=heading,
        volts=volts,
        amps=amps,
        celsius=celsius,
        status=status,
        status_word=status_word,
        identity=identity,
        identity_is_text=is_text,
        sentinel=plan.sentinel(identity, volts.place),
        blocks=plan.of_different_lengths(_join(quantities, most, bridges)),
        apart=plan.if_of_different_lengths(apart),
        quiet_s=quiet_s,
        answer_within_s=within_s,
    )


class _Plan:
    """Gives the sentinel and each block a length of its own, so that no late reply fits another."""

    def __init__(self, name: str, most: int) -> None:
        self._name = name
        self._most = most
        self._sentinel = (0, 0)

    def sentinel(self, identity: Place | None, volts: Place) -> Place:
        place = volts if identity is None else identity
        self._sentinel = (place.function, place.count)
        return place

    def if_of_different_lengths(self, blocks: Iterable[Block]) -> tuple[Block, ...]:
        """The same, or nothing where it cannot be."""
        try:
            return self.of_different_lengths(blocks)
        except BadDescription:
            return ()

    def of_different_lengths(self, blocks: Iterable[Block]) -> tuple[Block, ...]:
        taken = {self._sentinel}
        chosen = []
        for block in blocks:
            place = block.place
            while (place.function, place.count) in taken:
                # One register more, behind it or else before it.
                address = place.address if place.end < 0x10000 else place.address - 1
                place = Place(place.function, address, place.count + 1)
            if place.count > self._most:
                raise BadDescription(
                    f"{self._name}: two requests would have replies of the same length, which a "
                    "late reply could be taken for: raise talk.most_registers, or name an "
                    "[identity] of another length"
                )
            taken.add((place.function, place.count))
            chosen.append(Block(place, block.quantities))
        return tuple(chosen)


def _join(quantities: Sequence[RegisterQuantity], most: int, bridges: bool) -> tuple[Block, ...]:
    """As few blocks as the limits allow; volts come in the first."""
    blocks: list[Block] = []
    for quantity in sorted(quantities, key=lambda each: (each.place.function, each.place.address)):
        last = blocks[-1] if blocks else None
        if last is not None and _fits(last.place, quantity.place, most, bridges):
            end = max(last.place.end, quantity.place.end)
            place = Place(last.place.function, last.place.address, end - last.place.address)
            blocks[-1] = Block(place, (*last.quantities, quantity))
        else:
            blocks.append(Block(quantity.place, (quantity,)))
    order = {"volts": 0, "amps": 1, "status": 2, "celsius": 3}
    return tuple(sorted(blocks, key=lambda block: min(order[q.name] for q in block.quantities)))


def _fits(block: Place, more: Place, most: int, bridges: bool) -> bool:
    if block.function != more.function or more.end - block.address > most:
        return False
    gap = more.address - block.end
    return gap <= 0 or (bridges and gap <= WIDEST_BRIDGE)


def _quantity(top: TomlTable, name: str, most: int) -> RegisterQuantity:
    table = top.table(name)
    quantity = _quantity_in(table, name, most)
    table.refuse_the_rest()
    return quantity


def _quantity_in(table: TomlTable, name: str, most: int) -> RegisterQuantity:
    is_status = name == "status"
    kinds = ("uint16",) if is_status else TYPES
    kind = cast(RegisterType, table.choice("type", kinds, "uint16" if is_status else None))
    scale = 1.0 if is_status else table.number("scale", 1.0, least=-1e9, most=1e9)
    if scale == 0.0:
        raise table.wrong("scale", "must not be 0")
    width = 1 if kind in ("int16", "uint16") else 2
    highest = (1 << 16 * width) - 1
    form = RegisterForm(
        kind=kind,
        order=cast(ByteOrder, table.choice("order", ORDERS, "ABCD")),
        scale=scale,
        no_values=frozenset(table.whole_numbers("no_value", 0, highest)),
        true_values=frozenset(table.whole_numbers("true_values", 0, highest)),
    )
    if width > most:
        raise table.wrong("type", f"takes {width} registers; most_registers allows {most}")
    return RegisterQuantity(name, _place(table, width), form, table.text("source"))


def _place(table: TomlTable, count: int) -> Place:
    function = table.whole_number("function", None, 3, 4)
    address = table.whole_number("address", None, 0, 0x10000 - count)
    if "manual" in table:
        manual = table.whole_number("manual", None, 1, 465536)
        meant = [base + address for base in MANUAL_BASES[function]]
        if manual not in meant:
            counted = ", ".join(str(each) for each in meant)
            raise table.wrong(
                "manual",
                f"is {manual}, but address {address} on the wire, read by function {function}, "
                f"is {counted} in a manual: correct one of the two",
            )
    return Place(function, address, count)


def _identity(top: TomlTable, most: int) -> tuple[Place | None, bool]:
    if "identity" not in top:
        return None, False
    table = top.table("identity")
    count = table.whole_number("registers", 1, 1, min(most, LONGEST_IDENTITY))
    place = _place(table, count)
    is_text = table.yes_or_no("is_text", False)
    table.text("source")
    table.refuse_the_rest()
    return place, is_text
