"""A measured number, or why the supply gave none, and whether it can be true."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from drivers.output import believed
from drivers.reading import Mode, Reading

# SCPI-1999 volume 1, 7.2.1.4 and 7.2.1.5: not-a-number is 9.91E37, infinity +-9.9E37.
NOT_A_NUMBER = 9.91e37
INFINITE = 9.9e37
# A supply that reckons in single precision prints 9.9E37 as 9.8999997E37.
_SENTINELS_FROM = INFINITE * (1 - 1e-4)
HIGHEST_SHARE = 1.2 + 1e-9
ZERO_ERROR_SHARE = 0.01  # a meter at rest shows a little less than nothing
ZERO_ERROR_UNRATED = 0.5
COLDEST_CELSIUS, HOTTEST_CELSIUS = -50.0, 400.0


@dataclass(frozen=True, slots=True)
class Number:
    """A value, or None and why the supply gave none, such as "not a number (9.91E37)"."""

    value: float | None
    why: str | None = None


def refused_as_sentinel(value: float) -> str | None:
    """Why a finite number stands for none, or None where it is a value.

    Examples
    --------
    >>> refused_as_sentinel(-9.9e37), refused_as_sentinel(12.5)
    ('infinite (9.9E37)', None)
    """
    if abs(value) < _SENTINELS_FROM:
        return None
    if math.isclose(value, NOT_A_NUMBER, rel_tol=1e-4):
        return "not a number (9.91E37)"
    if math.isclose(abs(value), INFINITE, rel_tol=1e-4):
        return "infinite (9.9E37)"
    return "too large to be a value"


def doubt_of(name: str, number: Number, rated: float | None) -> str | None:
    """Why a value of volts or amps is in doubt; None where it is not.

    Examples
    --------
    >>> doubt_of("amps", Number(12.5), rated=10.0)
    'amps out of range (12.5, rated 10)'
    >>> doubt_of("volts", Number(None, "no value (FFFF)"), rated=None)
    'volts: no value (FFFF)'
    """
    if number.value is None:
        return f"{name}: {number.why}"
    least = -ZERO_ERROR_UNRATED if rated is None else -ZERO_ERROR_SHARE * rated
    most = number.value if rated is None else HIGHEST_SHARE * rated
    if least <= number.value <= most:
        return None
    known = "" if rated is None else f", rated {rated:g}"
    return f"{name} out of range ({number.value:g}{known})"


def sound_celsius(number: Number) -> float | None:
    """A temperature that can be one; None for no value, or one that no probe can have."""
    if number.value is None or not COLDEST_CELSIUS <= number.value <= HOTTEST_CELSIUS:
        return None
    return number.value


def reading_of(
    numbers: Mapping[str, Number],
    rated_volts: float | None,
    rated_amps: float | None,
    mode: Mode,
    apart_s: float,
) -> Reading:
    """The reading that numbers named "volts", "amps" and perhaps "celsius" make together.

    A state that volts and amps contradict is not believed.
    """
    volts, amps = numbers["volts"], numbers["amps"]
    doubts = (doubt_of("volts", volts, rated_volts), doubt_of("amps", amps, rated_amps))
    return Reading(
        volts=volts.value,
        amps=amps.value,
        celsius=sound_celsius(numbers["celsius"]) if "celsius" in numbers else None,
        mode=believed(mode, volts.value, amps.value, rated_amps),
        apart_s=apart_s,
        doubt="; ".join(doubt for doubt in doubts if doubt is not None) or None,
    )
