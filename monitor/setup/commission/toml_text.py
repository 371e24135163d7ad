"""A document of plain values as the text of a TOML file."""

import re
from collections.abc import Mapping, Sequence
from typing import TypeAlias

from drivers.base.inert import inert

Plain: TypeAlias = str | int | float | bool
Value: TypeAlias = "Plain | Sequence[Plain] | Mapping[str, Value] | Sequence[Mapping[str, Value]]"
Document: TypeAlias = Mapping[str, Value]

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(document: Document) -> str:
    """The text; tables come behind the plain keys, in the order in which they stand.

    Examples
    --------
    >>> print(toml_text({"a": 1, "b": {"c": "x"}, "d": [{"e": 0.5}]}))
    a = 1
    <BLANKLINE>
    [b]
    c = "x"
    <BLANKLINE>
    [[d]]
    e = 0.5
    <BLANKLINE>
    """
    return "\n".join(_lines(document, "")) + "\n"


def _lines(table: Document, path: str) -> list[str]:
    lines = [
        f"{_key(key)} = {_plain(value)}" for key, value in table.items() if not _is_table(value)
    ]
    for key, value in table.items():
        name = f"{path}.{_key(key)}" if path else _key(key)
        if isinstance(value, Mapping):
            lines += ["", f"[{name}]", *_lines(value, name)]
        elif _is_table(value) and isinstance(value, Sequence):
            for row in value:
                if isinstance(row, Mapping):
                    lines += ["", f"[[{name}]]", *_lines(row, name)]
    return lines


def _is_table(value: Value) -> bool:
    if isinstance(value, Mapping):
        return True
    return (
        isinstance(value, Sequence)
        and not isinstance(value, str)
        and len(value) > 0
        and all(isinstance(row, Mapping) for row in value)
    )


def _plain(value: Value) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str):
        return _quoted(value)
    return f"[{', '.join(_plain(each) for each in value)}]"


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _quoted(key)


def _quoted(text: str) -> str:
    # What does not print becomes a visible mark, so only these two need an escape.
    clean = inert(text, limit=4000).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{clean}"'
