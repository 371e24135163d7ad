"""The description of a Modbus supply or meter: its registers, and how they are read in blocks."""

from dataclasses import dataclass, replace
from itertools import chain
from typing import Annotated, Literal, Self, TypeAlias

from annotated_types import Interval
from pydantic import AfterValidator, Field, model_validator

from drivers.base.table import Table, Text, mistake_at, must
from drivers.base.timeout import TimeoutS
from drivers.description import DescriptionFile, Heading, Scale, open_description
from drivers.modbus.register_blocks import (
    Block,
    Place,
    RegisterQuantity,
    Way,
    join,
    of_different_lengths,
)
from drivers.modbus.register_question import MANUAL_BASES, MOST_REGISTERS
from drivers.modbus.register_value import WIDTHS, ByteOrder, RegisterForm, RegisterType
from drivers.modbus.scale_register import ScaleMeaning
from drivers.mode_bits import StatusBitsOrValues, StatusWord, no_twice

LONGEST_IDENTITY = 64


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
    sentinel
        What is read after trouble.
    is_numbered
        Over TCP a reply carries the number of its question, as the standard says.
    quiet_s
        The least silence between two frames, above the standard's own.
    most_registers
        In one request.
    lacks
        "volts" or "amps", where it does not measure that: another instrument does.
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
    is_numbered: bool
    quiet_s: float
    answer_within_s: float | None
    most_registers: int
    lacks: tuple[str, ...] = ()

    @property
    def numbered_ways(self) -> tuple[Way, ...]:
        """Where each reply carries the number of its question."""
        return tuple(Way(self.sentinel, blocks) for blocks in (self.blocks, self.apart))

    @property
    def serial_ways(self) -> tuple[Way, ...]:
        """Where it does not: first those in which each reply has a length of its own.

        Some devices give no register more than they have, or one register a request only. Then the
        sentinel is a question that they refuse, or one by the other function.
        """
        ways = [
            Way(self.sentinel, padded)
            for blocks in (self.blocks, self.apart)
            if (padded := of_different_lengths(self.sentinel, blocks, self.most_registers))
        ]
        ways += [
            Way(sentinel, blocks, may_refuse=True)
            for blocks in (self.blocks, self.apart)
            for sentinel in self._spare_sentinels
        ]
        return tuple(ways)

    @property
    def places(self) -> tuple[Place, ...]:
        """Every request that the driver can ever make by this description."""
        ways = (*self.numbered_ways, *self.serial_ways)
        blocks = chain.from_iterable(way.blocks for way in ways)
        identity = () if self.identity is None else (self.identity,)
        asked = (*identity, *(way.sentinel for way in ways), *(block.place for block in blocks))
        return tuple(dict.fromkeys(asked))

    @property
    def _spare_sentinels(self) -> tuple[Place, ...]:
        taken = {block.place for block in (*self.blocks, *self.apart)} | {self.sentinel}
        volts = self.volts.place
        counts = {place.count for place in taken if place.function == volts.function}
        longer = next(count for count in range(1, MOST_REGISTERS) if count not in counts)
        last = 0x10000 - longer
        spare = [Place(volts.function, min(volts.address, last), longer)]
        if len({place.function for place in taken}) == 1:
            spare.append(Place(7 - volts.function, volts.address, 1))
        return tuple(spare)


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
    file = open_description(name, _File)
    most = file.talk.most_registers
    # What it does not measure stands where the other does, and is never used.
    own_volts, own_amps = file.volts or file.amps, file.amps or file.volts
    assert own_volts is not None
    assert own_amps is not None
    volts, amps = own_volts.quantity("volts"), own_amps.quantity("amps")
    celsius = None if file.celsius is None else file.celsius.quantity("celsius")
    status = None if file.status is None else file.status.quantity("status")
    identity = None if file.identity is None else file.identity.place(file.identity.registers)
    scales = (own_volts.scale_register("volts"), own_amps.scale_register("amps"))
    quantities = tuple(each for each in (volts, amps, status, celsius, *scales) if each is not None)
    places = dict.fromkeys(quantity.place for quantity in quantities)
    apart = tuple(
        Block(place, tuple(q for q in quantities if q.place == place)) for place in places
    )
    return ModbusDescription(
        heading=file.heading(name),
        volts=volts,
        amps=amps,
        celsius=celsius,
        status=status,
        status_word=None if file.status is None else file.status.word(),
        identity=identity,
        identity_is_text=file.identity is not None and file.identity.is_text,
        sentinel=volts.place if identity is None else identity,
        blocks=join(quantities, most, file.talk.bridge_gaps),
        apart=apart,
        is_numbered=file.talk.numbers_replies,
        quiet_s=file.talk.quiet_ms / 1000,
        answer_within_s=file.talk.answer_within_s,
        most_registers=most,
        lacks=tuple(name for name in ("volts", "amps") if getattr(file, name) is None),
    )


Bits32: TypeAlias = Annotated[
    list[Annotated[int, Interval(ge=0, le=0xFFFFFFFF)]], AfterValidator(no_twice)
]


class _Talk(Table):
    most_registers: Annotated[int, Interval(ge=1, le=MOST_REGISTERS)] = MOST_REGISTERS
    bridge_gaps: bool = True
    quiet_ms: Annotated[float, Interval(ge=0, le=500)] = 0.0
    answer_within_s: TimeoutS | None = None
    numbers_replies: bool = True


class _Place(Table):
    function: Annotated[int, Interval(ge=3, le=4)]
    address: Annotated[int, Interval(ge=0, le=0xFFFF)]
    manual: Annotated[int, Interval(ge=1, le=465536)] | None = None
    source: Text

    @model_validator(mode="after")
    def _is_that_of_the_manual(self) -> Self:
        meant = [base + self.address for base in MANUAL_BASES[self.function]]
        if self.manual is not None and self.manual not in meant:
            counted = ", ".join(str(each) for each in meant)
            raise must(
                f"has manual = {self.manual}, but address {self.address} on the wire, read by "
                f"function {self.function}, is {counted} in a manual: correct one of the two"
            )
        return self

    def place(self, count: int) -> Place:
        """The place of `count` registers."""
        return Place(self.function, self.address, count)


class _Form(_Place):
    type: RegisterType
    order: ByteOrder = "ABCD"
    no_value: Bits32 = Field(default_factory=list)
    true_values: Bits32 = Field(default_factory=list)

    @model_validator(mode="after")
    def _fits_its_registers(self) -> Self:
        width = WIDTHS[self.type]
        if self.address > 0x10000 - width:
            raise must(f"has address {self.address}, behind which there are not {width} registers")
        highest = (1 << 16 * width) - 1
        if any(bits > highest for bits in (*self.no_value, *self.true_values)):
            raise must(f"no_value and true_values of {self.type} are at most {highest}")
        return self

    def quantity(self, name: str) -> RegisterQuantity:
        """The same for the driver."""
        values = (frozenset(self.no_value), frozenset(self.true_values))
        form = RegisterForm(self.type, self.order, self._scale, *values)
        return RegisterQuantity(name, self.place(form.width), form, self.source)

    @property
    def _scale(self) -> float:
        return 1.0


class _ScaleFrom(Table):
    function: Annotated[int, Interval(ge=3, le=4)]
    address: Annotated[int, Interval(ge=0, le=0xFFFF)]
    means: ScaleMeaning


class _Degrees(_Form):
    scale: Scale = 1.0

    @property
    def _scale(self) -> float:
        return self.scale


class _Quantity(_Degrees):
    scale_from: _ScaleFrom | None = None

    def quantity(self, name: str) -> RegisterQuantity:
        plain = super().quantity(name)
        return (
            plain if self.scale_from is None else replace(plain, scale_means=self.scale_from.means)
        )

    def scale_register(self, name: str) -> RegisterQuantity | None:
        """The register of its scale."""
        if self.scale_from is None:
            return None
        place = Place(self.scale_from.function, self.scale_from.address, 1)
        return RegisterQuantity(f"{name}_scale", place, RegisterForm("uint16"), self.source)


class _Status(_Form, StatusBitsOrValues):
    type: Literal["uint16"] = "uint16"


class _Identity(_Place):
    registers: Annotated[int, Interval(ge=1, le=LONGEST_IDENTITY)] = 1
    is_text: bool = False


class _File(DescriptionFile):
    kind: Literal["modbus"] = "modbus"
    talk: _Talk = _Talk()
    volts: _Quantity | None = None
    amps: _Quantity | None = None
    celsius: _Degrees | None = None
    status: _Status | None = None
    identity: _Identity | None = None

    @model_validator(mode="after")
    def _asks_for_no_more_than_allowed(self) -> Self:
        if self.volts is None and self.amps is None:
            raise mistake_at(("volts",), "is missing, and so is amps: it must measure one")
        most = self.talk.most_registers
        for name in ("volts", "amps", "celsius"):
            table = getattr(self, name)
            if table is not None and WIDTHS[table.type] > most:
                takes = f"takes {WIDTHS[table.type]} registers; most_registers allows {most}"
                raise mistake_at((name, "type"), takes)
        if self.identity is not None:
            registers = self.identity.registers
            if registers > most:
                raise mistake_at(("identity", "registers"), f"most_registers allows {most}")
            if self.identity.address + registers > 0x10000:
                raise mistake_at(("identity", "address"), "is too near the last register")
        return self
