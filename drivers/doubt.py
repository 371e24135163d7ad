"""Values and what the supply is rated for in, why they must not be reckoned with out."""

from drivers.number import Number

HIGHEST_SHARE = 1.2 + 1e-9
ZERO_ERROR_SHARE = 0.01  # a meter at rest shows a little less than nothing
ZERO_ERROR_UNRATED = 0.5
COLDEST_CELSIUS, HOTTEST_CELSIUS = -50.0, 400.0


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
