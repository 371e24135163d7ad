"""The status word of a supply: what its bits or its value mean, and how a description says it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Literal, Self, TypeAlias

from annotated_types import Interval
from pydantic import AfterValidator, Field, model_validator

from drivers.base.table import Table, must
from drivers.reading import Mode


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


def read_mode(words: Sequence[StatusWord], values: Sequence[int], dead: bool) -> Mode:
    """What the words say that the supply is doing.

    A cut-out is believed only at a dead output, and a regulated one only at a live one: makers
    give the same bits different meanings.
    """
    pairs = list(zip(words, values, strict=True))
    if dead and any(value & word.cut_out for word, value in pairs):
        return Mode.CUT_OUT
    if any(
        value & word.output_off or (word.is_off_at_zero and value == 0) for word, value in pairs
    ):
        return Mode.OUTPUT_OFF
    if not dead and any(value & word.constant_current for word, value in pairs):
        return Mode.CONSTANT_CURRENT
    if any(value & word.constant_voltage for word, value in pairs):
        return Mode.CONSTANT_VOLTAGE
    return Mode.UNKNOWN


def no_twice(numbers: list[int]) -> list[int]:
    """The same list, where no number stands in it twice."""
    if len(set(numbers)) != len(numbers):
        raise must("holds the same number twice")
    return numbers


_Bits: TypeAlias = Annotated[list[Annotated[int, Interval(ge=0, le=15)]], AfterValidator(no_twice)]
_Values: TypeAlias = Annotated[
    list[Annotated[int, Interval(ge=0, le=0xFFFF)]], AfterValidator(no_twice)
]


class StatusBits(Table):
    """The keys of a description's `[status]` that say by bits what the supply is doing."""

    cut_out_bits: _Bits = Field(default_factory=list)
    constant_current_bits: _Bits = Field(default_factory=list)
    constant_voltage_bits: _Bits = Field(default_factory=list)
    output_off_bits: _Bits = Field(default_factory=list)
    zero_means: Literal["output-off"] | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.word() == StatusWord():
            raise must("says nothing: name bits, or what zero means")
        return self

    def word(self) -> StatusWord:
        """The same as masks."""
        return StatusWord(
            _mask(self.cut_out_bits),
            _mask(self.constant_current_bits),
            _mask(self.constant_voltage_bits),
            _mask(self.output_off_bits),
            is_off_at_zero=self.zero_means is not None,
        )


class StatusBitsOrValues(StatusBits):
    """The same, or by whole values."""

    cut_out_values: _Values = Field(default_factory=list)
    constant_current_values: _Values = Field(default_factory=list)
    constant_voltage_values: _Values = Field(default_factory=list)
    output_off_values: _Values = Field(default_factory=list)

    @model_validator(mode="after")
    def _says_it_in_one_way(self) -> Self:
        word = self.word()
        if word.states and replace(word, states=ModeValues(), is_off_at_zero=False) != StatusWord():
            raise must("must not hold both bits and values, such as cut_out_values")
        return self

    def word(self) -> StatusWord:
        """Masks, or the values."""
        return replace(
            super().word(),
            states=ModeValues(
                frozenset(self.cut_out_values),
                frozenset(self.constant_current_values),
                frozenset(self.constant_voltage_values),
                frozenset(self.output_off_values),
            ),
        )


def _mask(bits: Iterable[int]) -> int:
    return sum(1 << bit for bit in bits)
