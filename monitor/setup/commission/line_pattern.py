"""Finds the form of a supply's answers in plain text, by what its panel showed.

Numbered rules, each with its test:

1. An answer in JSON is read by its keys.
2. Else answers are cut into numbers, words and the rest. All answers to one question must be cut
   alike; what stays the same is written as it is, a word that changes as any word. Where they are
   not cut alike, or no number fits, they are read by columns if they have as many.
3. The decimal sign is the point where there is one within a number, else the comma if that fits;
   numbers are hexadecimal only where nothing else fits.
4. As many decimals as there always were are demanded, so that a cut answer is none; fewer pass
   where a number had fewer once, since then zeros at the end are left off.
5. A word that supplies use for their state, such as CV, may be another one tomorrow: any word is
   taken in its place, and the first of them is the state. Not where answers have no end: there a
   word of any length could be a cut one.
6. Where a unit stands behind a value, its thousandth may stand there tomorrow, with other decimals.
7. Where spaces fill a number up, there may be any number of them.
"""

import re
from collections.abc import Iterator, Mapping, Sequence

from drivers.base.inert import inert
from drivers.errors import NotUnderstood
from drivers.lines.answer_form import SPACES, Writing, read_json, split_columns
from monitor.setup.commission.answer_fit import Chosen, fitting
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.found_form import WORDS_OF_THE_LIVE, DecimalSign, Pattern
from monitor.setup.commission.line_tokens import Digits, Token, cut, unit_behind, values
from monitor.setup.commission.panel import Panel

_HAS_POINT = re.compile(r"[0-9]\.[0-9]")
_SEPARATORS = (";", "\t", "|", ",", "/", SPACES)
_LENIENT = r"[+-]?[0-9]+(?:{sign}[0-9]+)?"


def find_pattern(
    answers: Sequence[str], shown: Sequence[Panel], may_tell_state: bool = False
) -> Pattern:
    """The only form that fits the answers to one question.

    Parameters
    ----------
    answers
        The answers, without their ends.
    shown
        What the panel showed at each, by the quantities that the answer holds.
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
    found = find_patterns(answers, shown, may_tell_state)
    if len(found) > 1:
        quoted = " and ".join(repr(inert(answer)) for answer in dict.fromkeys(answers))
        raise Ambiguous(
            f"several numbers in {quoted} fit {' and '.join(shown[0])}: choose settings at which "
            "volts, amps and set values differ more"
        )
    return found[0]


def find_patterns(
    answers: Sequence[str], shown: Sequence[Panel], may_tell_state: bool = False
) -> list[Pattern]:
    """Every form that fits, at least one; raises `NotCommissioned`."""
    for ways in (_by_keys, _by_pattern, _by_columns, _by_hex):
        found: list[Pattern] = []
        for pattern in ways(answers, shown, may_tell_state):
            if pattern not in found:
                found.append(pattern)
        if found:
            return found
    quoted = " and ".join(repr(inert(answer)) for answer in dict.fromkeys(answers))
    raise NotCommissioned(
        f"no number in {quoted} is what the panel showed for {' and '.join(shown[0])} at every "
        "setting: is it the right question, and was the panel steady?"
    )


# One for each form of answer: all ways in which it fits.


def _by_keys(
    answers: Sequence[str], shown: Sequence[Panel], may_tell_state: bool
) -> Iterator[Pattern]:
    try:
        documents = [dict(_leaves(read_json(answer), "")) for answer in answers]
    except NotUnderstood:
        return
    if not all(documents) or not all(answer.lstrip().startswith(("{", "[")) for answer in answers):
        return
    writing = Writing({})
    for chosen in fitting(
        [{name: _numbers(leaves, name, writing) for name in shown[0]} for leaves in documents],
        shown,
    ):
        keys = {name: place for name, (place, _) in chosen.items()}
        if may_tell_state:
            keys |= _state_at(documents)
        yield Pattern("", _scales(chosen), marks=keys, keys=keys)


def _by_columns(
    answers: Sequence[str], shown: Sequence[Panel], may_tell_state: bool
) -> Iterator[Pattern]:
    for separator in _SEPARATORS:
        try:
            rows = [split_columns(answer, separator) for answer in answers]
        except NotUnderstood:
            continue
        counts = {len(row) for row in rows}
        if len(counts) != 1 or counts == {1}:
            continue
        cells = [{str(n): cell for n, cell in enumerate(row, 1)} for row in rows]
        has_point = any(_HAS_POINT.search(answer) for answer in answers)
        signs: tuple[DecimalSign, ...] = (".",) if has_point or separator == "," else (",", ".")
        for sign in signs:
            writing = Writing({}, has_decimal_comma=sign == ",")
            read = [{name: _numbers(row, name, writing) for name in shown[0]} for row in cells]
            found = False
            for chosen in fitting(read, shown):
                found = True
                places = {name: int(place) for name, (place, _) in chosen.items()}
                if may_tell_state:
                    places |= {name: int(place) for name, place in _state_at(cells).items()}
                is_used = any("," in row[place - 1] for row in rows for place in places.values())
                yield Pattern(
                    "",
                    _scales(chosen),
                    sign if is_used else ".",
                    marks={name: f"column {place}" for name, place in places.items()},
                    columns={"separator": separator, "count": len(rows[0]), **places},
                )
            if found:
                return


def _numbers(cells: Mapping[str, object], name: str, writing: Writing) -> dict[str, float]:
    found: dict[str, float] = {}
    for place, cell in cells.items():
        try:
            number = writing.number(name, str(cell))
        except NotUnderstood:
            continue
        if number.value is not None and not isinstance(cell, bool):
            found[place] = number.value
    return found


def _leaves(document: object, pointer: str) -> Iterator[tuple[str, object]]:
    if isinstance(document, dict):
        for key, value in document.items():
            escaped = str(key).replace("~", "~0").replace("/", "~1")
            yield from _leaves(value, f"{pointer}/{escaped}")
    elif isinstance(document, list):
        for place, value in enumerate(document):
            yield from _leaves(value, f"{pointer}/{place}")
    elif pointer:
        yield pointer, document


def _state_at(rows: Sequence[Mapping[str, object]]) -> dict[str, str]:
    for place in rows[0]:
        if all(str(row.get(place)).upper() in WORDS_OF_THE_LIVE for row in rows):
            return {"status": place}
    return {}


def _by_pattern(
    answers: Sequence[str], shown: Sequence[Panel], may_tell_state: bool
) -> Iterator[Pattern]:
    has_point = any(_HAS_POINT.search(answer) for answer in answers)
    for digits in (Digits.POINT,) if has_point else (Digits.COMMA, Digits.POINT):
        found = list(_patterns(answers, shown, digits, may_tell_state))
        yield from found
        if found:
            return


def _by_hex(
    answers: Sequence[str], shown: Sequence[Panel], may_tell_state: bool
) -> Iterator[Pattern]:
    yield from _patterns(answers, shown, Digits.HEX, may_tell_state)


def _patterns(
    answers: Sequence[str], shown: Sequence[Panel], digits: Digits, may_tell_state: bool
) -> Iterator[Pattern]:
    rows = [cut(answer, digits) for answer in answers]
    if len({tuple(token.kind for token in row) for row in rows}) != 1:
        return
    if not any(token.kind == "number" for token in rows[0]):
        return
    state = state_place(rows) if may_tell_state else None
    read = [{name: values(row, digits, name) for name in shown[0]} for row in rows]
    for chosen in fitting(read, shown):
        groups = {place: name for name, (place, _) in chosen.items()}
        if state is not None:
            groups[state] = "status"
        text = _text(rows, groups, digits)
        sign: DecimalSign = "."
        if digits is Digits.COMMA and any(
            "," in row[place].text for row in rows for place, _ in chosen.values()
        ):
            sign = ","
        marks = {name: _marked(rows[0], place) for name, (place, _) in chosen.items()}
        yield Pattern(text, _scales(chosen), sign, digits is Digits.HEX, marks)


def _scales(chosen: Chosen[str] | Chosen[int]) -> dict[str, float]:
    return {name: scale for name, (_, scale) in chosen.items()}


def _marked(tokens: Sequence[Token], place: int) -> str:
    """The answer, with one of its numbers pointed at."""
    parts = [
        f"{token.before}>>{token.text}<<{token.behind}"
        if n == place
        else f"{token.before}{token.text}{token.behind}"
        for n, token in enumerate(tokens)
    ]
    return "".join(parts)


def state_place(rows: Sequence[Sequence[Token]]) -> int | None:
    """Where the first word stands that tells a state; None where there is none."""
    for place, token in enumerate(rows[0]):
        words = {row[place].text.upper() for row in rows}
        if token.kind == "word" and words <= WORDS_OF_THE_LIVE:
            return place
    return None


# The text of a pattern, piece by piece.


def _text(rows: Sequence[Sequence[Token]], groups: Mapping[int, str], digits: Digits) -> str:
    leaves_zeros = digits is not Digits.HEX and any(
        len({_decimals(row[place].text, digits) for row in rows}) > 1
        for place, name in groups.items()
        if name != "status" and len({unit_behind(row, place) for row in rows}) == 1
    )
    parts = []
    is_unit_written = False
    for place in range(len(rows[0])):
        column = [row[place] for row in rows]
        group = groups.get(place)
        if is_unit_written:
            is_unit_written = False
            continue
        if column[0].kind != "number":
            parts.append(_part(column, group))
            continue
        units = [unit_behind(row, place) for row in rows]
        follows = place > 0 and rows[0][place - 1].kind == "number"
        before = _before({token.before for token in column}, follows)
        behind = _behind({token.behind for token in column})
        if group is not None and group != "status" and None not in units:
            named = [(token.text, str(unit)) for token, unit in zip(column, units, strict=True)]
            parts.append(before + _with_unit(group, named, behind, digits, leaves_zeros))
            is_unit_written = True
            continue
        number = _number([token.text for token in column], digits, leaves_zeros)
        parts.append(before + (number if group is None else f"(?P<{group}>{number})") + behind)
    return "".join(parts)


def _before(texts: set[str], follows_a_number: bool) -> str:
    """Spaces before a number may fill it up, so there may be none, but between two numbers."""
    if texts == {""}:
        return ""
    space = r"\ " if texts <= {" " * n for n in range(40)} else r"\s"
    return space + ("+" if follows_a_number else "*")


def _behind(texts: set[str]) -> str:
    if len(texts) == 1 and len(text := next(iter(texts))) <= 1:
        return re.escape(text)
    return r"\ *" if texts <= {" " * n for n in range(40)} else r"\s*"


def _with_unit(
    group: str,
    named: Sequence[tuple[str, str]],
    behind: str,
    digits: Digits,
    leaves_zeros: bool,
) -> str:
    """A value and its unit, or the thousandth of it (rule 6)."""
    base = min((unit for _, unit in named), key=len)
    base = base[1:] if len(base) > 1 and base[0] in "mMuUkK\xb5" else base
    usual = [text for text, unit in named if unit == base]
    seen = {unit for _, unit in named}
    lenient = _LENIENT.format(sign=re.escape(digits.value if digits is not Digits.HEX else "."))
    if seen == {base}:
        number = _number(usual, digits, leaves_zeros)
        value = f"{number}|{lenient}(?={behind}m{base})"
        return f"(?P<{group}>{value}){behind}(?P<{group}_unit>m?{base})"
    units = "|".join(re.escape(unit) for unit in sorted({*seen, base, f"m{base}"}))
    return f"(?P<{group}>{lenient}){behind}(?P<{group}_unit>{units})"


def _part(tokens: Sequence[Token], group: str | None) -> str:
    texts = {token.text for token in tokens}
    if tokens[0].kind == "word" and group is not None:
        return f"(?P<{group}>[A-Za-z]+)"
    if tokens[0].kind == "sum":
        return rf"\*[0-9A-Fa-f]{{{len(tokens[0].text) - 1}}}"
    if len(texts) > 1:
        return "[A-Za-z]+" if tokens[0].kind == "word" else r"\s+" if _is_space(texts) else "."
    return "".join(_literal(character) for character in tokens[0].text)


def _is_space(texts: set[str]) -> bool:
    return all(not text.strip() for text in texts)


def _literal(character: str) -> str:
    """A character as a pattern writes it: what does not print as its number."""
    if character == "\n":
        return r"\n"
    return re.escape(character) if character.isprintable() else f"\\x{ord(character):02x}"


def _decimals(text: str, digits: Digits) -> int:
    return len(re.split("[eE]", text.rstrip("+-"))[0].partition(digits.value)[2])


def _number(texts: Sequence[str], digits: Digits, leaves_zeros: bool) -> str:
    if digits is Digits.HEX:
        lengths = {len(text) for text in texts}
        bare = "0[xX]" if all(text.lower().startswith("0x") for text in texts) else ""
        count = lengths.pop() - (2 if bare else 0) if len(lengths) == 1 else None
        return f"{bare}[0-9A-Fa-f]" + (f"{{{count}}}" if count else "{1,8}")
    behind = "[+-]?" if any(text[-1] in "+-" for text in texts) else ""
    sign = "" if behind and not any(text[0] in "+-" for text in texts) else "[+-]?"
    if any(text[0] in "+-" and " " in text for text in texts):
        sign = r"[+-]?\ *"
    bodies = [text.strip("+- ") for text in texts]
    pieces = [re.split("[eE]", body, maxsplit=1) for body in bodies]
    exponents = [piece[1].lstrip("+-") for piece in pieces if len(piece) == 2]
    mantissa = _mantissa([piece[0] for piece in pieces], digits, leaves_zeros)
    if not exponents:
        return sign + mantissa + behind
    counts = {len(exponent) for exponent in exponents}
    exponent = f"[eE][+-]?[0-9]{{{counts.pop() if len(counts) == 1 else '1,3'}}}"
    # A number that had its exponent only sometimes, such as 0 beside 1.2E1, may go without.
    has_always = len(exponents) == len(texts)
    return sign + mantissa + (exponent if has_always else f"(?:{exponent})?")


def _mantissa(texts: Sequence[str], digits: Digits, leaves_zeros: bool) -> str:
    parts = [text.partition(digits.value) for text in texts]
    wholes = {len(whole) for whole, _, _ in parts}
    decimals = {len(rest) for _, _, rest in parts}
    has_zeros = any(whole.startswith("0") and len(whole) > 1 for whole, _, _ in parts)
    whole = f"[0-9]{{{wholes.pop()}}}" if has_zeros and len(wholes) == 1 else "[0-9]+"
    point = re.escape(digits.value)
    if leaves_zeros and decimals != {0}:
        return f"{whole}(?:{point}[0-9]{{1,{max(decimals)}}})?"
    if decimals == {0}:
        return whole
    if 0 in decimals:
        return f"{whole}(?:{point}[0-9]+)?"
    return f"{whole}{point}[0-9]" + (f"{{{decimals.pop()}}}" if len(decimals) == 1 else "+")


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
    tokens = cut(answer, Digits.POINT)
    place = state_place([tokens])
    if any(token.text.upper() == "OFF" for token in tokens):
        says = f"{inert(answer)!r} says that the output is off, but the panel showed current"
        raise NotCommissioned(f"{says}: leave the question for the state out")
    if place is None:
        raise NotCommissioned(
            f"no word in {inert(answer)!r} is one for a state, such as CV, CC or OFF: leave the "
            "question for it out, or write its [[answer]] and [status] by hand, by the manual"
        )
    return _text([tokens], {place: "status"}, Digits.POINT)
