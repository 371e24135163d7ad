"""Finds what a status register means, from what it held in the states that were shown.

Pure: no port, no clock. Numbered rules, each with its test:

1. Two states at least must have been shown, each read more than once.
2. Whole values tell the states apart where each state always gave one value, and no other gave it:
   any value not seen then is a state not known, which is safe.
3. Else single bits do, where exactly one bit was set in all readings of a state and in none of the
   others; where there are several, nobody knows which of them means it.
4. A state in which no bit of its own is set can only be "output off", by the value 0.
5. What the manual says of the cut-out (which nobody need bring about) decides between values and
   bits, and must not have been seen in any state that was shown.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Literal

from drivers.reading import Mode
from monitor.base.errors import WrongUse
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.toml_text import Plain

By = Literal["values", "bits"]
STATES = {
    Mode.CONSTANT_VOLTAGE: "constant_voltage",
    Mode.CONSTANT_CURRENT: "constant_current",
    Mode.OUTPUT_OFF: "output_off",
    Mode.CUT_OUT: "cut_out",
}
"""What can be shown, and how a description's keys begin."""
_SHORT = {"cv": "constant-voltage", "cc": "constant-current", "off": "output-off"}
_CUT_OUT = re.compile(r"(bit|value)\s+([0-9]{1,5})", re.ASCII | re.IGNORECASE)
_TOP_BIT = 15

Table = dict[str, Plain | Sequence[Plain]]


def read_states(text: str) -> tuple[Mode, ...]:
    """The states that the operator can bring about, as typed.

    Raises
    ------
    WrongUse

    Examples
    --------
    >>> [mode.word for mode in read_states("off, CV")]
    ['output-off', 'constant-voltage']
    """
    by_word = {mode.word: mode for mode in STATES}
    modes = []
    for part in filter(None, (piece.strip().lower() for piece in text.split(","))):
        word = _SHORT.get(part, part.replace(" ", "-"))
        if word not in by_word:
            raise WrongUse(f"state {part!r}: one of {', '.join(by_word)}, with commas between")
        modes.append(by_word[word])
    if len(set(modes)) < 2 or len(set(modes)) < len(modes):
        raise WrongUse(f"states {text!r}: name two or more different ones, such as off, CV")
    return tuple(modes)


def read_cut_out(text: str) -> tuple[By, int] | None:
    """How the manual says that the supply has cut out; None where it says nothing.

    Raises
    ------
    WrongUse
    """
    if not text.strip():
        return None
    match = _CUT_OUT.fullmatch(text.strip())
    if match is None:
        raise WrongUse(f"cut-out {text!r}: type it like 'bit 5' or 'value 4'")
    by: By = "bits" if match[1].lower() == "bit" else "values"
    number = int(match[2])
    if number > (_TOP_BIT if by == "bits" else 0xFFFF):
        raise WrongUse(f"cut-out {text!r}: a register has bits 0 to 15 and values up to 65535")
    return by, number


def what_was_read(read: Mapping[Mode, Sequence[int]]) -> str:
    """The readings by state, as values and as the bits that were set, for people."""
    lines = []
    for mode, values in read.items():
        seen = " or ".join(
            f"{value} (bits {', '.join(map(str, bits)) or 'none'})"
            for value in dict.fromkeys(values)
            for bits in [[bit for bit in range(_TOP_BIT + 1) if value >> bit & 1]]
        )
        lines.append(f"{mode.word}: {seen}")
    return "\n  ".join(lines)


def find_states(
    read: Mapping[Mode, Sequence[int]], by: By | None = None, cut_out: tuple[By, int] | None = None
) -> Table:
    """The keys of a description's `[status]` that say what the register means.

    Parameters
    ----------
    read
        What the register held, in each state that was shown.
    by
        What the manual says that it consists of; None where it does not say.
    cut_out
        What `read_cut_out` gave.

    Raises
    ------
    Ambiguous, NotCommissioned

    Examples
    --------
    >>> find_states({Mode.OUTPUT_OFF: [0, 0], Mode.CONSTANT_VOLTAGE: [1, 1]})
    {'output_off_values': [0], 'constant_voltage_values': [1]}
    """
    if cut_out is not None:
        if by is not None and by != cut_out[0]:
            raise NotCommissioned(f"the cut-out is told by {cut_out[0]}, but the states by {by}")
        _refuse_another_cut_out(read, *cut_out)
        by = cut_out[0]
    if by == "bits" or (by is None and not _values_tell(read)):
        table = _by_bits(read)
    else:
        table = _by_values(read)
    if cut_out is not None:
        table[f"{STATES[Mode.CUT_OUT]}_{cut_out[0]}"] = [cut_out[1]]
    return table


def _refuse_another_cut_out(read: Mapping[Mode, Sequence[int]], by: By, number: int) -> None:
    for mode, values in read.items():
        for value in values:
            says = bool(value >> number & 1) if by == "bits" else value == number
            if says != (mode is Mode.CUT_OUT):
                raise NotCommissioned(
                    f"by the manual {by[:-1]} {number} says that the supply has cut out, but it "
                    f"was not so:\n  {what_was_read(read)}"
                )


def _values_tell(read: Mapping[Mode, Sequence[int]]) -> bool:
    each = [set(values) for values in read.values()]
    return all(len(distinct) == 1 for distinct in each) and len(set.union(*each)) == len(each)


def _by_values(read: Mapping[Mode, Sequence[int]]) -> Table:
    if not _values_tell(read):
        raise NotCommissioned(
            f"its values do not tell the states apart:\n  {what_was_read(read)}\n"
            "Is it the right register, and was each state really there?"
        )
    return {f"{STATES[mode]}_values": [values[0]] for mode, values in read.items()}


def _by_bits(read: Mapping[Mode, Sequence[int]]) -> Table:
    table: Table = {}
    for mode, values in read.items():
        always, elsewhere = 0xFFFF, 0
        for value in values:
            always &= value
        for state, seen in read.items():
            for value in seen:
                elsewhere |= value if state is not mode else 0
        own = [bit for bit in range(_TOP_BIT + 1) if (always & ~elsewhere) >> bit & 1]
        if len(own) > 1:
            raise Ambiguous(
                f"bits {' and '.join(map(str, own))} are both set in {mode.word} only:\n  "
                f"{what_was_read(read)}\nShow one state more, or say that whole values tell them"
            )
        if own:
            table[f"{STATES[mode]}_bits"] = own
        elif mode is Mode.OUTPUT_OFF and not any(values):
            table["zero_means"] = mode.word
        else:
            raise NotCommissioned(
                f"no bit is set in {mode.word} only:\n  {what_was_read(read)}\n"
                "Is it the right register, and was each state really there?"
            )
    return table
