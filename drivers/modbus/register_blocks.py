"""How the registers of one supply are read in blocks: which requests, and which lengths.

Pure: it knows no port and no file.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from drivers.modbus.register_question import MANUAL_BASES
from drivers.modbus.register_value import RegisterForm
from drivers.modbus.scale_register import ScaleMeaning

WIDEST_BRIDGE = 16
"""Up to this many registers in a row are read without need, if that keeps volts and amps in one
block."""


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
    """One value, where it stands and what it means.

    Parameters
    ----------
    name
        "volts", "amps", "celsius", "status"; "volts_scale" and "amps_scale" for their scales.
    scale_means
        How the register of its scale is read; None where its scale does not change.
    """

    name: str
    place: Place
    form: RegisterForm
    source: str
    scale_means: ScaleMeaning | None = None

    @property
    def scale_name(self) -> str:
        """The name of its scale."""
        return f"{self.name}_scale"


@dataclass(frozen=True, slots=True)
class Block:
    """Registers that are read in one request, and the quantities in them."""

    place: Place
    quantities: tuple[RegisterQuantity, ...]

    @property
    def is_needed(self) -> bool:
        """True where volts, amps or a scale of theirs are in it."""
        return any(quantity.name.startswith(("volts", "amps")) for quantity in self.quantities)

    def registers_of(self, quantity: RegisterQuantity, values: Sequence[int]) -> Sequence[int]:
        """A quantity's own registers out of the block's."""
        start = quantity.place.address - self.place.address
        return values[start : start + quantity.place.count]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to divide a poll into requests, and what is asked after trouble.

    Parameters
    ----------
    sentinel
        What is asked after trouble; no other request of this way has a reply of its form.
    blocks
        What is read at each poll, in order.
    may_refuse
        A refusal of the sentinel proves as much as an answer.
    """

    sentinel: Place
    blocks: tuple[Block, ...]
    may_refuse: bool = False

    @property
    def has_twins(self) -> bool:
        """Whether two requests have replies of one form."""
        forms = [(block.place.function, block.place.count) for block in self.blocks]
        return len({*forms}) < len(forms)


def of_different_lengths(sentinel: Place, blocks: Iterable[Block], most: int) -> tuple[Block, ...]:
    """Blocks with replies of different lengths, so that no late reply fits another question.

    A block may take a register more, behind it or else before it; nothing where that is too many.
    """
    taken = {(sentinel.function, sentinel.count)}
    chosen = []
    for block in blocks:
        place = block.place
        while (place.function, place.count) in taken:
            address = place.address if place.end < 0x10000 else place.address - 1
            place = Place(place.function, address, place.count + 1)
        if place.count > most:
            return ()
        taken.add((place.function, place.count))
        chosen.append(Block(place, block.quantities))
    return tuple(chosen)


def join(quantities: Sequence[RegisterQuantity], most: int, bridges: bool) -> tuple[Block, ...]:
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
    order = ("volts", "volts_scale", "amps", "amps_scale", "status", "celsius")
    return tuple(
        sorted(blocks, key=lambda block: min(order.index(q.name) for q in block.quantities))
    )


def _fits(block: Place, more: Place, most: int, bridges: bool) -> bool:
    if block.function != more.function or more.end - block.address > most:
        return False
    gap = more.address - block.end
    return gap <= 0 or (bridges and gap <= WIDEST_BRIDGE)
