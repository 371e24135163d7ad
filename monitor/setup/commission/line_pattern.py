"""The pattern that reads volts and amps out of a supply's plain text, found by its panel.

Numbered rules, each with its test:

1. Answers are cut into numbers (with their exponent), words and the rest. All answers to one
   question must be cut alike; what stays the same is written as it is, a word that changes as any
   word.
2. A number is volts or amps if, times a power of ten, it is near what the panel showed at every
   setting; exactly one must be, and it must fit.
3. The decimal sign is the point where there is one within a number, else the comma if that fits.
4. As many decimals as there always were are demanded, so that a cut answer is none.
5. A word that supplies use for their state, such as CV, may be another one tomorrow: any word is
   taken in its place, and the first of them is the state. Not where answers have no end: there a
   word of any length could be a cut one.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

from drivers.base.inert import inert
from monitor.setup.commission.candidates import SCALES
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.panel import Panel
from monitor.setup.commission.toml_text import Plain, Value

DecimalSign = Literal[".", ","]
STATES = {"CV": "constant_voltage", "CC": "constant_current", "OFF": "output_off"}
"""Words for states whose meaning is plain to everybody in the trade; common practice, no source."""
STATES_TOLD = (
    "a word in it tells the state: CV, CC and OFF are understood. If the manual names a word for a "
    "cut-out, add it to cut_out in [status]"
)
_STATE_WORDS = {*STATES, "ON", "OK", "OL", "OV", "OC", "OT", "OVP", "OCP", "OTP", "OPP", "TRIP"}
_REST = "|(?P<word>[A-Za-z]+)|(?P<rest>.)"
_EXPONENT = r"(?:[eE][+-]?[0-9]{1,3}(?![0-9.]))"
_TOKENS: dict[DecimalSign, re.Pattern[str]] = {
    ".": re.compile(rf"(?P<number>[+-]?[0-9]+(?:\.[0-9]+)?{_EXPONENT}?){_REST}", re.DOTALL),
    ",": re.compile(rf"(?P<number>[+-]?[0-9]+(?:,[0-9]+)?{_EXPONENT}?){_REST}", re.DOTALL),
}
_HAS_POINT = re.compile(r"[0-9]\.[0-9]")


@dataclass(frozen=True, slots=True)
class Pattern:
    """How one answer is read.

    Parameters
    ----------
    text
        The pattern, with a group for each quantity.
    scales
        What one step of each quantity is worth.
    """

    text: str
    scales: Mapping[str, float]
    decimal_sign: DecimalSign

    @property
    def tells_state(self) -> bool:
        """Whether one of its groups is the state."""
        return "(?P<status>" in self.text

    def table(self, source: str) -> dict[str, Plain]:
        """As the `[[answer]]` of a description."""
        scales = {f"{name}_scale": scale for name, scale in self.scales.items() if scale != 1.0}
        return {"pattern": self.text, **scales, "source": source}


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str


def find_pattern(
    answers: Sequence[str], shown: Sequence[Panel], may_tell_state: bool = False
) -> Pattern:
    """The pattern of an answer.

    Parameters
    ----------
    answers
        The answers to one question, one for each setting, without their ends.
    shown
        What the panel showed at each setting, by the quantities that the answer holds.
    may_tell_state
        The answer has an end, and no other one tells the state.

    Raises
    ------
    Ambiguous, NotCommissioned

    Examples
    --------
    >>> from monitor.setup.commission.panel import Shown
    >>> shown = [{"volts": Shown(12.0, 0.1)}, {"volts": Shown(6.0, 0.1)}]
    >>> find_pattern(["V=12.01", "V=05.98"], shown).text
    'V=(?P<volts>[+-]?[0-9]{2}\\\\.[0-9]{2})'
    """
    patterns: list[Pattern] = []
    has_point = any(_HAS_POINT.search(answer) for answer in answers)
    signs: tuple[DecimalSign, ...] = (".",) if has_point else (",", ".")
    for sign in signs:
        cut = [_cut(answer, sign) for answer in answers]
        kinds = [[token.kind for token in tokens] for tokens in cut]
        if not patterns and kinds.count(kinds[0]) == len(kinds):
            patterns = _patterns(cut, shown, sign, may_tell_state)
    quoted = " and ".join(repr(inert(answer)) for answer in answers)
    names = " and ".join(shown[0])
    if not patterns:
        raise NotCommissioned(
            f"no number in {quoted} is what the panel showed for {names} at every setting: is it "
            "the right question, and was the panel steady?"
        )
    if len({(pattern.text, tuple(pattern.scales.items())) for pattern in patterns}) > 1:
        raise Ambiguous(
            f"several numbers in {quoted} fit {names}: choose settings at which volts, amps and "
            "set values differ more"
        )
    return patterns[0]


def _cut(answer: str, sign: DecimalSign) -> list[_Token]:
    return [_Token(str(match.lastgroup), match[0]) for match in _TOKENS[sign].finditer(answer)]


def _patterns(
    cut: Sequence[Sequence[_Token]],
    shown: Sequence[Panel],
    sign: DecimalSign,
    may_tell_state: bool,
) -> list[Pattern]:
    state = _state_place(cut) if may_tell_state else None
    places: dict[str, list[tuple[int, float]]] = {}
    for name in shown[0]:
        places[name] = [
            (place, scale)
            for place, token in enumerate(cut[0])
            if token.kind == "number"
            for scale in SCALES
            if all(
                panel[name].is_near(_value(tokens[place].text, sign) * scale)
                for tokens, panel in zip(cut, shown, strict=True)
            )
        ]
    patterns = []
    for chosen in product(*places.values()):
        named = dict(zip(places, chosen, strict=True))
        if len({place for place, _ in chosen}) < len(chosen):
            continue
        _demand_fit(cut, shown, sign, named)
        groups = {place: name for name, (place, _) in named.items()}
        if state is not None:
            groups[state] = "status"
        text = "".join(
            _part([tokens[place] for tokens in cut], groups.get(place), sign)
            for place in range(len(cut[0]))
        )
        scales = {name: scale for name, (_, scale) in named.items()}
        is_used = any(sign in tokens[place].text for tokens in cut for place, _ in chosen)
        patterns.append(Pattern(text, scales, sign if is_used else "."))
    return patterns


def _state_place(cut: Sequence[Sequence[_Token]]) -> int | None:
    """Where the first word stands that tells a state; None where there is none."""
    for place, token in enumerate(cut[0]):
        words = {tokens[place].text.upper() for tokens in cut}
        if token.kind == "word" and words <= _STATE_WORDS:
            return place
    return None


def _demand_fit(
    cut: Sequence[Sequence[_Token]],
    shown: Sequence[Panel],
    sign: DecimalSign,
    named: Mapping[str, tuple[int, float]],
) -> None:
    for tokens, panel in zip(cut, shown, strict=True):
        for name, (place, scale) in named.items():
            value = _value(tokens[place].text, sign) * scale
            if not panel[name].fits(value):
                raise NotCommissioned(
                    f"the answer says {value:g} where the panel showed {panel[name].words}: wait "
                    "until the panel is steady, and try again"
                )


def _part(tokens: Sequence[_Token], group: str | None, sign: DecimalSign) -> str:
    texts = {token.text for token in tokens}
    match tokens[0].kind:
        case "number":
            number = _number([token.text for token in tokens], sign)
            return f"(?P<{group}>{number})" if group is not None else number
        case "word" if group is not None:
            return f"(?P<{group}>[A-Za-z]+)"
        case "word" if len(texts) > 1:
            return "[A-Za-z]+"
        case "rest" if len(texts) > 1:
            return "."
    return re.escape(tokens[0].text)


def _number(texts: Sequence[str], sign: DecimalSign) -> str:
    cut = [re.split("[eE]", text, maxsplit=1) for text in texts]
    exponents = [parts[1].lstrip("+-") for parts in cut if len(parts) == 2]
    if not exponents:
        return _mantissa(texts, sign)
    digits = {len(exponent) for exponent in exponents}
    exponent = f"[eE][+-]?[0-9]{{{digits.pop() if len(digits) == 1 else '1,3'}}}"
    # A number that had its exponent sometimes only, such as 0 beside 1.2E1, may go without.
    is_always = len(exponents) == len(texts)
    return _mantissa([parts[0] for parts in cut], sign) + (
        exponent if is_always else f"(?:{exponent})?"
    )


def _mantissa(texts: Sequence[str], sign: DecimalSign) -> str:
    parts = [text.lstrip("+-").partition(sign) for text in texts]
    wholes = {len(whole) for whole, _, _ in parts}
    decimals = {len(rest) for _, _, rest in parts}
    has_zeros = any(whole.startswith("0") and len(whole) > 1 for whole, _, _ in parts)
    whole = f"[0-9]{{{wholes.pop()}}}" if has_zeros and len(wholes) == 1 else "[0-9]+"
    if decimals == {0}:
        return f"[+-]?{whole}"
    rest = f"{{{decimals.pop()}}}" if len(decimals) == 1 else "+"
    return f"[+-]?{whole}{re.escape(sign)}[0-9]{rest}"


def find_state(answer: str) -> str:
    """The pattern of an answer that tells the state and nothing else.

    Raises
    ------
    NotCommissioned

    Examples
    --------
    >>> find_state("ST CV")
    'ST\\\\ (?P<status>[A-Za-z]+)'
    """
    tokens = _cut(answer, ".")
    place = _state_place([tokens])
    if place is None:
        raise NotCommissioned(
            f"no word in {inert(answer)!r} is one for a state, such as CV, CC or OFF: leave the "
            "question for it out, or write its [[answer]] and [status] by hand, by the manual"
        )
    return "".join(
        _part([token], "status" if number == place else None, ".")
        for number, token in enumerate(tokens)
    )


def state_table(source: str) -> dict[str, Value]:
    """The `[status]` of a description whose pattern names the state."""
    return {**{key: [word] for word, key in STATES.items()}, "source": source}


def only_choice(patterns: Sequence[Pattern]) -> str:
    """Why these were chosen, for people."""
    forms = "; ".join(pattern.text for pattern in patterns)
    return f"the only numbers that are what the panel showed at both settings: {forms}"


def _value(text: str, sign: DecimalSign) -> float:
    return float(text.replace(sign, "."))
