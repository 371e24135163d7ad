"""Status words of a supply in, what it is doing out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from drivers.reading import Mode
from drivers.toml_table import TomlTable

# The bath's own polarisation keeps up to 2.5 V at a dead output (common practice, no source).
DEAD_VOLTS = 3.0
DEAD_AMPS = 0.1
DEAD_SHARE = 0.02


class SaysMode(Protocol):
    """What the bits of one status word mean: masks, 0 for none."""

    @property
    def cut_out(self) -> int: ...
    @property
    def constant_current(self) -> int: ...
    @property
    def constant_voltage(self) -> int: ...
    @property
    def output_off(self) -> int: ...
    @property
    def is_off_at_zero(self) -> bool: ...


def is_dead(volts: float | None, amps: float | None, rated_amps: float | None) -> bool:
    """True where the output gives nothing, as after a cut-out.

    Examples
    --------
    >>> is_dead(1.9, 0.004, rated_amps=10.0), is_dead(11.8, 0.0, rated_amps=10.0)
    (True, False)
    """
    if volts is None or amps is None:
        return False
    least_amps = DEAD_AMPS if rated_amps is None else DEAD_SHARE * rated_amps
    return volts < DEAD_VOLTS and amps < least_amps


def read_mode(registers: Sequence[SaysMode], values: Sequence[int], dead: bool) -> Mode:
    """What the registers say that the supply is doing.

    A cut-out is believed only at a dead output, and a regulated one only at a live one: makers
    give the same bits different meanings.
    """
    pairs = list(zip(registers, values, strict=True))
    if dead and any(value & register.cut_out for register, value in pairs):
        return Mode.CUT_OUT
    if any(
        value & register.output_off or (register.is_off_at_zero and value == 0)
        for register, value in pairs
    ):
        return Mode.OUTPUT_OFF
    if not dead and any(value & register.constant_current for register, value in pairs):
        return Mode.CONSTANT_CURRENT
    if any(value & register.constant_voltage for register, value in pairs):
        return Mode.CONSTANT_VOLTAGE
    return Mode.UNKNOWN


@dataclass(frozen=True, slots=True)
class ModeValues:
    """The states that a status word tells by its whole value, such as 4 for "cut out"."""

    cut_out: frozenset[int] = frozenset()
    constant_current: frozenset[int] = frozenset()
    constant_voltage: frozenset[int] = frozenset()
    output_off: frozenset[int] = frozenset()

    def mode(self, value: int) -> Mode:
        """The state; `Mode.UNKNOWN` for a value that is not listed.

        Examples
        --------
        >>> ModeValues(cut_out=frozenset({4})).mode(4).word
        'cut-out'
        """
        for mode, values in (
            (Mode.CUT_OUT, self.cut_out),
            (Mode.OUTPUT_OFF, self.output_off),
            (Mode.CONSTANT_CURRENT, self.constant_current),
            (Mode.CONSTANT_VOLTAGE, self.constant_voltage),
        ):
            if value in values:
                return mode
        return Mode.UNKNOWN

    def __bool__(self) -> bool:
        return bool(
            self.cut_out or self.constant_current or self.constant_voltage or self.output_off
        )


@dataclass(frozen=True, slots=True)
class StatusWord:
    """One word whose bits, or whose whole value, say what the supply is doing.

    Parameters
    ----------
    cut_out, constant_current, constant_voltage, output_off
        Masks of bits, 0 for none.
    is_off_at_zero
        The value 0 says that the output is off.
    states
        States told by the whole value; where there are any, the bits are not looked at.
    """

    cut_out: int = 0
    constant_current: int = 0
    constant_voltage: int = 0
    output_off: int = 0
    is_off_at_zero: bool = False
    states: ModeValues = ModeValues()

    def mode(self, value: int | None, dead: bool) -> Mode:
        """What a value says, given whether the output is dead; None for no value."""
        if value is None:
            return Mode.UNKNOWN
        return self.states.mode(value) if self.states else read_mode((self,), (value,), dead)


def read_status_word(table: TomlTable) -> StatusWord:
    """The keys of a description's `[status]` that say what its value means.

    Raises
    ------
    BadDescription
        Where nothing is named that the value could say.
    """
    word = StatusWord(
        cut_out=_mask(table.whole_numbers("cut_out_bits", 0, 15)),
        constant_current=_mask(table.whole_numbers("constant_current_bits", 0, 15)),
        constant_voltage=_mask(table.whole_numbers("constant_voltage_bits", 0, 15)),
        output_off=_mask(table.whole_numbers("output_off_bits", 0, 15)),
        is_off_at_zero="zero_means" in table
        and table.choice("zero_means", ("output-off",)) == "output-off",
        states=ModeValues(
            frozenset(table.whole_numbers("cut_out_values", 0, 0xFFFF)),
            frozenset(table.whole_numbers("constant_current_values", 0, 0xFFFF)),
            frozenset(table.whole_numbers("constant_voltage_values", 0, 0xFFFF)),
            frozenset(table.whole_numbers("output_off_values", 0, 0xFFFF)),
        ),
    )
    masks = word.cut_out | word.constant_current | word.constant_voltage | word.output_off
    if masks and word.states:
        raise table.wrong("cut_out_bits", "and the like cannot stand beside cut_out_values")
    if not masks and not word.states and not word.is_off_at_zero:
        raise table.wrong("cut_out_bits", "is missing, and all others: name bits or values")
    return word


def _mask(bits: Iterable[int]) -> int:
    return sum(1 << bit for bit in bits)
