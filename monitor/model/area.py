"""Areas as operators write them, such as "150 cm2", in square decimetres."""

import re

DM2_IN = {"cm2": 0.01, "dm2": 1.0, "in2": 0.064516, "m2": 100.0}
"""Square decimetres in one of each; the inch is 2.54 cm exactly
(international yard and pound agreement of 1959, from memory)."""
MOST_DM2 = 1000.0

_WRITTEN = re.compile(r"([0-9]*[.,]?[0-9]+)\s*(cm|dm|in|m)\s*(?:2|\u00b2)?", re.IGNORECASE)


def area_dm2(text: str) -> float | None:
    """The area in square decimetres; None where it cannot be read.

    Examples
    --------
    >>> area_dm2("150 cm2"), area_dm2("1,5 dm2"), area_dm2("10in2"), area_dm2("12")
    (1.5, 1.5, 0.64516, None)
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        return None
    area = round(float(match[1].replace(",", ".")) * DM2_IN[f"{match[2].lower()}2"], 9)
    return area if 0.0 < area <= MOST_DM2 else None


def area_text(dm2: float | None) -> str:
    """The area in words; "" where it is not known.

    Examples
    --------
    >>> area_text(1.5), area_text(0.64516), area_text(None)
    ('1.5 dm2', '64.5 cm2', '')
    """
    if dm2 is None:
        return ""
    return f"{dm2:.3g} dm2" if dm2 >= 1.0 else f"{dm2 * 100.0:.3g} cm2"
