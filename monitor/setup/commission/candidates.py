"""Finds the one way to read volts and amps from registers, by what the panel showed.

Pure: no port, no clock. Numbered rules, each with its test:

1. Candidates are all of: the address, the one before and the one behind; functions 3 and 4;
   int16, uint16, int32, uint32, float32; the four byte orders; scales by powers of ten.
2. Two settings at least 10 % apart in volts and in amps are needed: one proves nothing.
3. A candidate counts that is near (5 %) at every setting. Volts and amps must be read by the same
   function, counting of addresses and byte order: no manual changes those between two lines.
4. Exactly one pair must count, and it must fit (1 % and two digits) at every setting.
5. Function 3 and function 4 are one where they gave the same registers at every setting.
6. Signed and unsigned read the same where nothing above the ratings can be told from a negative
   number: then it is unsigned, by which a negative number is refused and never misread. A type that
   was asked for stays as it is.
7. What the manual says (function, type, order, counting) rules out the others; type and order may
   be said of volts and amps apart.
8. A way that cannot hold the rated value is none: its numbers would wrap.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

from drivers.modbus.register_question import MANUAL_BASES
from drivers.modbus.register_value import (
    ORDERS,
    TYPES,
    WIDTHS,
    ByteOrder,
    RegisterForm,
    RegisterType,
)
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.panel import Panel, Shown, panel_text

OFFSETS = (-1, 0, 1)
FUNCTIONS = (3, 4)
SCALES = (10.0, 1.0, 0.1, 0.01, 0.001, 0.0001)
APART_SHARE = 0.10
QUANTITIES = ("volts", "amps")
_RATED_SHARE = 1.2
_MOST_TOLD = 8
_SWAPPED = ("BADC", "DCBA")


@dataclass(frozen=True, slots=True)
class Candidate:
    """One way to read one quantity; `offset` is how far from where the manual was taken to say."""

    offset: int
    function: int
    address: int
    kind: RegisterType
    order: ByteOrder
    scale: float

    @property
    def form(self) -> RegisterForm:
        """As the driver reads it."""
        return RegisterForm(self.kind, self.order, self.scale)

    @property
    def manual(self) -> int:
        """The register's number as manuals count, from 40001 or 30001."""
        return MANUAL_BASES[self.function][0] + self.address

    @property
    def words(self) -> str:
        """With both ways of counting."""
        return (
            f"function {self.function}, wire address {self.address} (manual {self.manual}), "
            f"{self.kind} {self.order}, times {self.scale:g}"
        )


@dataclass(frozen=True, slots=True)
class Setting:
    """What was read and shown at one setting of the supply.

    Parameters
    ----------
    shown
        The panel's numbers.
    blocks
        What single requests brought: function, first address, registers.
    """

    shown: Panel
    blocks: tuple[tuple[int, int, tuple[int, ...]], ...]

    def registers(self, function: int, address: int, count: int) -> tuple[int, ...] | None:
        """Registers out of one request, never put together from two; None where there are none."""
        for block_function, first, values in self.blocks:
            start = address - first
            if block_function == function and start >= 0 and start + count <= len(values):
                return values[start : start + count]
        return None


@dataclass(frozen=True, slots=True)
class Facts:
    """What the manual says; None for what it does not say.

    Parameters
    ----------
    functions, kinds, orders
        By quantity, where they are not the same for volts and amps.
    """

    function: int | None = None
    kind: RegisterType | None = None
    order: ByteOrder | None = None
    offset: int | None = None
    scales: tuple[float, ...] = SCALES
    functions: Mapping[str, int] = field(default_factory=dict)
    kinds: Mapping[str, RegisterType] = field(default_factory=dict)
    orders: Mapping[str, ByteOrder] = field(default_factory=dict)

    def kind_of(self, name: str) -> RegisterType | None:
        """The type of one quantity."""
        return self.kinds.get(name, self.kind)

    def allow(self, candidate: Candidate, name: str) -> bool:
        """Whether a candidate for a quantity agrees with what is known."""
        order = self.orders.get(name, self.order)
        return (
            self.function in (None, candidate.function)
            and self.kind_of(name) in (None, candidate.kind)
            and (order is None or is_of_order(candidate, order))
            and self.offset in (None, candidate.offset)
        )


@dataclass(frozen=True, slots=True)
class Pair:
    """A way to read both quantities, and what it read at each setting."""

    volts: Candidate
    amps: Candidate
    read_volts: tuple[float, ...] = field(compare=False)
    read_amps: tuple[float, ...] = field(compare=False)

    @property
    def words(self) -> str:
        """Both, and what they read."""
        volts = ", ".join(f"{value:g}" for value in self.read_volts)
        amps = ", ".join(f"{value:g}" for value in self.read_amps)
        return f"volts by {self.volts.words}: {volts} V; amps by {self.amps.words}: {amps} A"


def search(
    settings: Sequence[Setting],
    addresses: Mapping[str, int],
    ratings: Mapping[str, float],
    facts: Facts | None = None,
) -> Pair:
    """The one way in which the registers say what the panel showed.

    Parameters
    ----------
    addresses
        Where the manual says volts and amps are, on the wire; one more or less is tried, too.
    ratings
        The most that the supply gives, by quantity; what is not known is left out.

    Raises
    ------
    Ambiguous
        Naming those that fit, and what would tell them apart.
    NotCommissioned
        Where nothing fits, or the settings prove nothing.
    """
    pairs = plausible(settings, addresses, ratings, facts)
    if len(settings) < 2:
        raise Ambiguous(
            f"one setting alone proves nothing: {len(pairs)} ways of reading agree with it; "
            "change the volts on the front panel and read again"
        )
    for name in QUANTITIES:
        _demand_apart(name, [setting.shown[name] for setting in settings])
    if not pairs:
        raise NotCommissioned(_nothing_fits(settings))
    if len(pairs) > 1:
        raise Ambiguous(_several(pairs))
    (pair,) = pairs
    for setting, volts, amps in zip(settings, pair.read_volts, pair.read_amps, strict=True):
        if not (setting.shown["volts"].fits(volts) and setting.shown["amps"].fits(amps)):
            raise NotCommissioned(
                f"only one way of reading comes near, but it does not fit: {pair.words}; the panel "
                f"showed {_shown_words(settings)}. Wait until the panel is steady, and try again"
            )
    return pair


def plausible(
    settings: Sequence[Setting],
    addresses: Mapping[str, int],
    ratings: Mapping[str, float],
    facts: Facts | None = None,
) -> list[Pair]:
    """Every pair that is near at every setting, those that are really one taken together."""
    facts = facts or Facts()
    near = {
        name: [
            candidate
            for candidate in ways(addresses[name], facts.scales)
            if facts.allow(candidate, name)
            and holds(candidate, ratings.get(name))
            and facts.functions.get(name, candidate.function) == candidate.function
            and _is_near(candidate, name, settings)
        ]
        for name in QUANTITIES
    }
    mirrored = facts.function is None and not facts.functions and _is_mirrored(settings)
    chosen: dict[tuple[Candidate, Candidate], Pair] = {}
    for volts, amps in product(near["volts"], near["amps"]):
        if not (
            _belong_together(volts, amps, bool(facts.orders))
            and (facts.functions or volts.function == amps.function)
        ):
            continue
        read = [tuple(_values(each, settings)) for each in (volts, amps)]
        key = tuple(
            _one_of_several(each, mirrored, ratings.get(name), facts.kind_of(name))
            for each, name in ((volts, "volts"), (amps, "amps"))
        )
        chosen[key[0], key[1]] = Pair(key[0], key[1], read[0], read[1])
    return sorted(chosen.values(), key=lambda pair: (abs(pair.volts.offset), pair.volts.function))


def table(settings: Sequence[Setting], address: int, name: str, facts: Facts) -> list[str]:
    """Every candidate of one quantity that is near at any setting, as lines for people."""
    lines = []
    for candidate in ways(address, facts.scales):
        read = [value_of(candidate, setting) for setting in settings]
        shown = [setting.shown[name] for setting in settings]
        near = [
            value is not None and number.is_near(value)
            for value, number in zip(read, shown, strict=True)
        ]
        if any(near) and facts.allow(candidate, name):
            values = ", ".join("-" if value is None else f"{value:g}" for value in read)
            mark = "fits all" if all(near) else "does not fit all"
            lines.append(f"{candidate.words}: {values}  ({mark})")
    return lines


def ways(address: int, scales: Iterable[float]) -> Iterator[Candidate]:
    """Every way to read one quantity at or beside an address."""
    for offset, function, kind in product(OFFSETS, FUNCTIONS, TYPES):
        place = address + offset
        if not 0 <= place <= 0x10000 - WIDTHS[kind]:
            continue
        # A single register has only two orders, written by the first of each.
        orders = ORDERS if WIDTHS[kind] == 2 else (ORDERS[0], ORDERS[2])
        for order, scale in product(orders, scales):
            yield Candidate(offset, function, place, kind, order, scale)


def value_of(candidate: Candidate, setting: Setting) -> float | None:
    registers = setting.registers(candidate.function, candidate.address, WIDTHS[candidate.kind])
    return None if registers is None else candidate.form.read(registers).value


def _values(candidate: Candidate, settings: Iterable[Setting]) -> Iterator[float]:
    for setting in settings:
        value = value_of(candidate, setting)
        if value is not None:
            yield value


def _is_near(candidate: Candidate, name: str, settings: Sequence[Setting]) -> bool:
    for setting in settings:
        value = value_of(candidate, setting)
        if value is None or not setting.shown[name].is_near(value):
            return False
    return True


def holds(candidate: Candidate, rated: float | None) -> bool:
    """Whether the rated value, and a little more, can be read; True where it is not known.

    Examples
    --------
    >>> holds(Candidate(0, 3, 1, "uint16", "ABCD", 0.001), rated=100.0)
    False
    """
    if rated is None or candidate.kind == "float32":
        return True
    bits = 16 * WIDTHS[candidate.kind] - candidate.kind.startswith("int")
    return rated < ((1 << bits) - 1) * candidate.scale


def _belong_together(volts: Candidate, amps: Candidate, may_differ: bool) -> bool:
    return (
        volts.offset == amps.offset
        and (may_differ or is_of_order(volts, amps.order, WIDTHS[amps.kind]))
        and not _overlap(volts, amps)
    )


def _overlap(first: Candidate, second: Candidate) -> bool:
    return (
        first.function == second.function
        and first.address < second.address + WIDTHS[second.kind]
        and second.address < first.address + WIDTHS[first.kind]
    )


def is_of_order(candidate: Candidate, order: ByteOrder, width: int = 2) -> bool:
    """Two registers know four orders; a single one only whether its two bytes are exchanged."""
    if WIDTHS[candidate.kind] == width == 2:
        return candidate.order == order
    return (candidate.order in _SWAPPED) == (order in _SWAPPED)


def _is_mirrored(settings: Sequence[Setting]) -> bool:
    """Whether both functions gave the very same registers, and more than nothing."""
    compared = 0
    for setting in settings:
        for function, first, values in setting.blocks:
            if function != 3:
                continue
            if setting.registers(4, first, len(values)) != values:
                return False
            compared += 1
    return compared > 0


def _one_of_several(
    candidate: Candidate, mirrored: bool, rated: float | None, asked: RegisterType | None
) -> Candidate:
    if mirrored:
        candidate = replace(candidate, function=3)
    if candidate.kind == asked:
        return candidate
    half = 1 << (16 * WIDTHS[candidate.kind] - 1)
    if rated is not None and _RATED_SHARE * rated / candidate.scale < half:
        if candidate.kind == "int16":
            return replace(candidate, kind="uint16")
        if candidate.kind == "int32":
            return replace(candidate, kind="uint32")
    return candidate


def _demand_apart(name: str, shown: Sequence[Shown]) -> None:
    values = sorted(each.value for each in shown)
    if values[0] <= 0.0:
        raise NotCommissioned(
            f"the panel showed no {name} at one setting: too many registers hold 0; let the "
            "supply deliver into a load, such as the bath"
        )
    if values[-1] - values[0] < APART_SHARE * values[-1]:
        raise NotCommissioned(
            f"the two settings are too close together in {name} ({values[0]:g} and "
            f"{values[-1]:g}): they must be 10 % apart at least; change the volts further"
        )


def _nothing_fits(settings: Sequence[Setting]) -> str:
    return (
        f"no way of reading the registers gives what the panel showed ({_shown_words(settings)}) "
        "at every setting: check the two register numbers, that the panel was steady, and that a "
        "volts register was not given for amps"
    )


def _shown_words(settings: Sequence[Setting]) -> str:
    return "; ".join(panel_text(setting.shown) for setting in settings)


def _several(pairs: Sequence[Pair]) -> str:
    ways_text = "; or ".join(pair.words for pair in pairs[:_MOST_TOLD])
    more = f"; and {len(pairs) - _MOST_TOLD} more" if len(pairs) > _MOST_TOLD else ""
    return f"{len(pairs)} ways of reading fit: {ways_text}{more}. {_what_differs(pairs)}"


def _what_differs(pairs: Sequence[Pair]) -> str:
    volts, amps = [pair.volts for pair in pairs], [pair.amps for pair in pairs]
    differing = [
        word
        for word, values in (
            ("--function", {way.function for way in (*volts, *amps)}),
            ("--offset", {way.offset for way in (*volts, *amps)}),
        )
        if len(values) > 1
    ]
    differing += _whose("type", {way.kind for way in volts}, {way.kind for way in amps})
    differing += _whose("order", {way.order for way in volts}, {way.order for way in amps})
    rated = " or the ratings" if any("-type" in word for word in differing) else ""
    return f"Say what the manual says: {', '.join(differing) or 'the scale'}{rated}"


def _whose(fact: str, volts: Collection[str], amps: Collection[str]) -> list[str]:
    """The option that tells a fact of volts, of amps, or of both."""
    if len(volts) > 1 and len(amps) > 1:
        return [f"--{fact}"]
    return [
        f"--{name}-{fact}" for name, values in (("volts", volts), ("amps", amps)) if len(values) > 1
    ]
