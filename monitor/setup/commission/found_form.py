"""What commissioning found of the form of one answer: a pattern, JSON keys, or columns."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from monitor.setup.commission.toml_text import Plain, Value

DecimalSign = Literal[".", ","]
STATES = {"CV": "constant_voltage", "CC": "constant_current", "OFF": "output_off"}
"""Words for states whose meaning is plain to everybody in the trade; common practice, no source."""
STATE_WORDS = {*STATES, "ON", "OK", "OL", "OV", "OC", "OT", "OVP", "OCP", "OTP", "OPP", "TRIP"}
WORDS_OF_THE_LIVE = STATE_WORDS - {"OFF"}
"""Of these at the settings of a session, where current flows: OFF is about something else there."""
STATES_TOLD = (
    "a word in it tells the state: CV, CC and OFF are understood. If the manual names a word for a "
    "cut-out, add it to cut_out in [status]"
)


@dataclass(frozen=True, slots=True)
class Pattern:
    """How one answer is read.

    Parameters
    ----------
    text
        The pattern, with a group for each quantity; "" for keys and columns.
    scales
        What one step of each quantity is worth.
    is_hex
        Its numbers are whole and hexadecimal.
    marks
        Where each quantity stands, for people, such as {"volts": "12.04 in V=»12.04«"}.
    keys, columns
        The tables of a description for an answer in JSON or in columns.
    """

    text: str
    scales: Mapping[str, float]
    decimal_sign: DecimalSign = "."
    is_hex: bool = False
    marks: Mapping[str, str] = field(default_factory=dict, compare=False)
    keys: Mapping[str, str] = field(default_factory=dict)
    columns: Mapping[str, Plain] = field(default_factory=dict)

    @property
    def tells_state(self) -> bool:
        """Whether one of its groups is the state."""
        return "(?P<status>" in self.text or "status" in self.keys or "status" in self.columns

    @property
    def words(self) -> str:
        """The same for people."""
        return self.text or ", ".join(f"{k} = {v}" for k, v in (self.keys or self.columns).items())

    def table(self, source: str) -> dict[str, Value]:
        """As the `[[answer]]` of a description."""
        scales = {f"{name}_scale": scale for name, scale in self.scales.items() if scale != 1.0}
        base: dict[str, Value] = {"number_base": 16} if self.is_hex else {}
        if self.keys:
            return {**base, **scales, "source": source, "keys": dict(self.keys)}
        if self.columns:
            return {**base, **scales, "source": source, "columns": dict(self.columns)}
        return {"pattern": self.text, **base, **scales, "source": source}


def state_table(source: str) -> dict[str, Value]:
    """The `[status]` of a description whose answer names the state."""
    return {**{key: [word] for word, key in STATES.items()}, "source": source}


def only_choice(patterns: "list[Pattern]") -> str:
    """Why these were chosen, for people."""
    forms = "; ".join(pattern.words for pattern in patterns)
    return f"the only numbers that are what the panel showed at both settings: {forms}"
