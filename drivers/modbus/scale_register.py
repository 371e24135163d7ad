"""A scale that stands in a register of its own: how many decimals another register has."""

from typing import Literal

ScaleMeaning = Literal["decimals", "exponent", "divisor", "factor"]
MEANINGS: tuple[ScaleMeaning, ...] = ("decimals", "exponent", "divisor", "factor")
_MOST_DIGITS = 6
_DIVISORS = (1, 10, 100, 1000, 10000)


def scale_of(meaning: ScaleMeaning, bits: int) -> float | None:
    """What one step is worth by the register's 16 bits; None where they can mean no scale.

    Examples
    --------
    >>> scale_of("decimals", 2), scale_of("exponent", 0xFFFE), scale_of("divisor", 100)
    (0.01, 0.01, 0.01)
    >>> scale_of("factor", 10), scale_of("divisor", 0), scale_of("decimals", 100)
    (10.0, None, None)
    """
    signed = bits - 0x10000 if bits & 0x8000 else bits
    match meaning:
        case "decimals":
            return _power(-signed) if signed >= 0 else None
        case "exponent":
            return _power(signed)
        case "divisor":
            return 1.0 / bits if bits in _DIVISORS else None
        case "factor":
            return float(bits) if bits else None


def _power(exponent: int) -> float | None:
    return float(f"1e{exponent}") if abs(exponent) <= _MOST_DIGITS else None
