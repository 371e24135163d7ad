"""The area of simple shapes in square decimetres."""

import math
import re
from collections.abc import Callable

from monitor.base.errors import WrongUse
from monitor.model.area import MOST_DM2, area_dm2

MM_IN = {"mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0, "in": 25.4}
"""Millimetres in one of each; the inch is 25.4 mm exactly (1959 agreement, from memory)."""

SHAPES: dict[str, tuple[int, str, Callable[..., float]]] = {
    "tube": (2, "diameter x length, outside only", lambda d, length: math.pi * d * length),
    "rod": (
        2,
        "diameter x length, with both ends",
        lambda d, length: math.pi * d * length + math.pi * d * d / 2.0,
    ),
    "sheet": (2, "length x width, both faces", lambda a, b: 2.0 * a * b),
    "plate": (2, "length x width, one face", lambda a, b: a * b),
    "disc": (1, "diameter, one face", lambda d: math.pi * d * d / 4.0),
    "dome": (1, "diameter of a half-sphere, outside only", lambda d: math.pi * d * d / 2.0),
    "ball": (1, "diameter", lambda d: math.pi * d * d),
    "box": (
        3,
        "length x width x height, all six faces",
        lambda a, b, c: 2.0 * (a * b + b * c + a * c),
    ),
}
"""How many lengths a shape needs, which they are, and its area (Euclid)."""

_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_PIECE = re.compile(
    rf"(?:(?P<count>[0-9]+)\s+)?(?P<shape>[a-z]+?)s?\s+"
    rf"(?P<sizes>{_NUMBER}(?:\s*x\s*{_NUMBER})*)\s*(?P<unit>mm|cm|dm|m|in)",
    re.IGNORECASE,
)


def area_of(text: str) -> float:
    """Area of a part, dm2: a number with its unit, or shapes joined by a plus.

    Examples
    --------
    >>> area_of("150 cm2")
    1.5
    >>> round(area_of("tube 22.2 x 600 mm + 2 domes 60 mm"), 3)
    5.316

    Raises
    ------
    WrongUse
        One line: what cannot be read, and how it is written; also for an area of zero.
    """
    whole = area_dm2(text)
    if whole is not None:
        return whole
    area = sum(_piece(part.strip()) for part in text.split("+"))
    if not 0.0 < area <= MOST_DM2:
        raise WrongUse(f"area {text!r}: must be over 0 and up to {MOST_DM2:g} dm2")
    return area


def _piece(text: str) -> float:
    match = _PIECE.fullmatch(text)
    name = "" if match is None else match["shape"].lower()
    if match is None or name not in SHAPES:
        raise WrongUse(
            f"area {text!r}: write a number with cm2, dm2, in2 or m2, or a shape such as "
            f"'tube 22 x 600 mm'; shapes: {', '.join(SHAPES)}"
        )
    needed, which, area = SHAPES[name]
    lengths = [float(length.replace(",", ".")) for length in re.findall(_NUMBER, match["sizes"])]
    if len(lengths) != needed:
        raise WrongUse(f"area {text!r}: a {name} needs {which}")
    dm = [length * MM_IN[match["unit"].lower()] / 100.0 for length in lengths]
    return int(match["count"] or 1) * area(*dm)
