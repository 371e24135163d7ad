"""What stands in which register of a simulated Modbus device, and how its file is read.

| table | what |
| --- | --- |
| (top) | `title`, `first` and `last` address, `most_registers` in one request |
| `[[register]]` | one quantity, or `serial` or `identity` or `status` |
| `[[hole]]` | `first` and `last` of addresses that answer with exception 02 |
| `[status]` | the number for each mode |

Addresses are those on the wire, from 0. What lies between `first` and `last` and has no
quantity reads as 0.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, TypeAlias

from simulators.form import Between, FormError, load_form, names_in
from simulators.register_word import ORDERS, Kind, Order, width
from simulators.supply import Mode

MAPS = Path(__file__).with_name("registers")

Address: TypeAlias = Annotated[int, Between(0, 65535)]
Quantity: TypeAlias = Literal["volts", "amps", "celsius", "status", "serial", "identity"]


@dataclass(frozen=True, slots=True)
class Register:
    """Where one quantity stands.

    Parameters
    ----------
    function
        3 (holding registers) or 4 (input registers).
    kind
        How it is written; `text` (identity only) takes `registers` of two letters each.
    order
        See `simulators.register_word`.
    scale
        What one count is worth, in volts, amps or degrees Celsius.
    no_value
        The bits that mean "no value"; where it has none, 0 is sent.
    """

    quantity: Quantity
    address: Address
    function: Annotated[int, Between(3, 4)] = 3
    kind: Literal["int16", "uint16", "int32", "uint32", "float32", "text"] = "uint16"
    order: Order = "ABCD"
    scale: Annotated[float, Between(1e-6, 1e6)] = 1.0
    no_value: Annotated[int, Between(0, 2**32 - 1)] | None = None
    registers: Annotated[int, Between(1, 40)] | None = None

    def __post_init__(self) -> None:
        if (self.kind == "text") != (self.quantity == "identity"):
            raise FormError("identity, and nothing else, is of the kind text")
        if (self.kind == "text") != (self.registers is not None):
            raise FormError("a text, and nothing else, says how many registers it takes")

    @property
    def width(self) -> int:
        """How many registers it takes."""
        return (self.registers or 1) if self.kind == "text" else width(self.kind)


@dataclass(frozen=True, slots=True)
class Hole:
    """Addresses that nobody may read, both ends included."""

    first: Address
    last: Address


@dataclass(frozen=True, slots=True)
class StatusNumbers:
    """What the status register holds in each mode."""

    constant_voltage: Address = 1
    constant_current: Address = 2
    cut_out: Address = 4
    output_off: Address = 0

    def number(self, mode: Mode) -> int:
        """What it holds in one mode; the fields have the names of the modes."""
        return int(getattr(self, mode.name.lower()))


@dataclass(frozen=True, slots=True)
class RegisterMap:
    """The registers of one device."""

    name: str
    title: str
    registers: tuple[Register, ...] = ()
    first: Address = 0
    last: Address = 99
    most_registers: Annotated[int, Between(1, 125)] = 125
    holes: tuple[Hole, ...] = ()
    status: StatusNumbers = StatusNumbers()

    def __post_init__(self) -> None:
        for number, register in enumerate(self.registers, 1):
            if not self.first <= register.address <= self.last + 1 - register.width:
                raise FormError(
                    f"[[register]] number {number} lies outside of {self.first} to {self.last}"
                )
        for first, second in itertools.combinations(self.registers, 2):
            if first.function == second.function and (
                first.address < second.address + second.width
                and second.address < first.address + first.width
            ):
                raise FormError(f"{first.quantity} and {second.quantity} lie on the same register")

    @property
    def functions(self) -> frozenset[int]:
        """The reading functions that it knows."""
        return frozenset(register.function for register in self.registers)

    def allows(self, address: int, count: int) -> bool:
        """Whether that many registers from there on may be read."""
        last = address + count - 1
        return (self.first <= address and last <= self.last) and not any(
            hole.first <= last and address <= hole.last for hole in self.holes
        )


def map_names() -> list[str]:
    """The maps that come with the simulator."""
    return names_in(MAPS)


def load_map(name: str) -> RegisterMap:
    """Read a map that comes with the simulator, or a file of the user's.

    Raises
    ------
    FormError
        With one line that names what is wrong and the cure.

    Examples
    --------
    >>> load_map("supply-uint16").registers[0].scale
    0.01
    """
    return load_form(RegisterMap, "register map", name, MAPS)


def permutations(
    address: int = 16,
    scales: tuple[float, ...] = (1.0, 0.1, 0.01, 0.001),
) -> Iterator[RegisterMap]:
    """Every way in which a manual can be misread: volts, and amps right behind them.

    Around `address` by -1, 0 and +1, functions 3 and 4, every type, every order that differs for
    it, every scale (1 only for floats). A value that does not fit its type stands at its end.
    """
    kinds: tuple[Kind, ...] = ("int16", "uint16", "int32", "uint32", "float32")
    for offset, function, kind in itertools.product((-1, 0, 1), (3, 4), kinds):
        orders = ORDERS if width(kind) == 2 else ("ABCD", "BADC")
        for order, scale in itertools.product(orders, scales if kind != "float32" else (1.0,)):
            first = address + offset
            yield RegisterMap(
                name=f"{function}-{first}-{kind}-{order}-{scale:g}",
                title=f"function {function}, address {first}, {kind} {order}, times {scale:g}",
                registers=(
                    Register("volts", first, function, kind, order, scale),
                    Register("amps", first + width(kind), function, kind, order, scale),
                ),
            )
