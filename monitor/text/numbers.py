"""How screens and lines show numbers. Every rounding is decided here."""

from math import ceil, floor

from monitor.base.moments import clock

DASHES = "--"
"""What stands where a number is unknown or too old to be shown."""

SECONDS_UP_TO = 90.0
HOURS_FROM = 3600.0


def figure(value: float | None) -> str:
    """A measured value with three significant digits, as a bench meter shows it.

    Examples
    --------
    >>> figure(9.7149), figure(12.345), figure(104.2), figure(None)
    ('9.71', '12.3', '104', '--')
    """
    if value is None:
        return DASHES
    for places, below in ((2, 10.0), (1, 100.0)):
        rounded = round(value, places)
        if abs(rounded) < below:
            return f"{rounded + 0.0:.{places}f}"
    return f"{value:.0f}"


def amps_text(amps: float | None) -> str:
    """Amps with their unit.

    >>> amps_text(9.96), amps_text(None)
    ('9.96 A', '-- A')
    """
    return f"{figure(amps)} A"


def volts_text(volts: float | None) -> str:
    """Volts with their unit.

    >>> volts_text(6.0)
    '6.00 V'
    """
    return f"{figure(volts)} V"


def celsius_text(celsius: float | None) -> str:
    """A temperature in whole degrees; the degree sign is left to the eye.

    >>> celsius_text(31.46)
    '31 C'
    """
    return f"{DASHES} C" if celsius is None else f"{celsius:.0f} C"


def amp_hours_text(amp_hours: float) -> str:
    """Charge; small charges get milliampere-hours' resolution.

    >>> amp_hours_text(1.4249), amp_hours_text(0.0561)
    ('1.42 Ah', '0.056 Ah')
    """
    return f"{amp_hours:.3f} Ah" if abs(amp_hours) < 0.1 else f"{figure(amp_hours)} Ah"


def percent(share: float, places: int = 0, *, signed: bool = False) -> str:
    """A share as per cent; what is not whole is never rounded up to 100.

    >>> percent(0.184), percent(0.9996), percent(0.9996, 1), percent(1.0)
    ('18 %', '99 %', '99.9 %', '100 %')
    >>> percent(0.0123, 1, signed=True), percent(-0.2, 1, signed=True)
    ('+1.2 %', '-20.0 %')
    """
    scale = 10.0**places
    per_cent = share * 100.0
    nearest = round(per_cent, places)
    if nearest >= 100.0 > per_cent:
        nearest = floor(per_cent * scale) / scale
    return f"{nearest + 0.0:{'+' if signed else ''}.{places}f} %"


def for_how_long(seconds: float) -> str:
    """Time passed, in a sentence.

    >>> for_how_long(6.7), for_how_long(95)
    ('6 s', '1:35')
    """
    return f"{max(int(seconds), 0)} s" if seconds < SECONDS_UP_TO else clock(seconds)


def about(seconds: float) -> str:
    """A time ahead, no sharper than a forecast is.

    >>> about(4), about(43), about(100), about(118), about(700), about(5000)
    ('under 10 s', 'about 40 s', 'about 1.5 min', 'about 2 min', 'about 12 min', 'about 1.5 h')
    """
    short = ahead(seconds)
    return short if short.startswith("under") else f"about {short}"


def ahead(seconds: float) -> str:
    """A time ahead without the "about", for big figures.

    >>> ahead(4), ahead(43), ahead(118), ahead(100)
    ('under 10 s', '40 s', '2 min', '1.5 min')
    """
    if seconds < 10.0:
        return "under 10 s"
    if seconds < SECONDS_UP_TO:
        return f"{_to(seconds, 10.0):g} s"
    if seconds < HOURS_FROM:
        minutes = _to(seconds / 60.0, 0.5) if seconds < 180.0 else _to(seconds / 60.0, 1.0)
        return f"{minutes:g} min"
    return f"{_to(seconds / 3600.0, 0.5):g} h"


def trip_range(low_s: float | None, median_s: float, high_s: float | None) -> str:
    """The 10 % to 90 % range in the unit of the median; rounded outwards, so never too narrow.

    `high_s` is None where the far end lies beyond any horizon.

    >>> trip_range(80, 118, 190), trip_range(22, 43, 70), trip_range(22, 43, 400)
    ('1 to 4', '20 to 70', '20 s to 7 min')
    >>> trip_range(80, 118, None), trip_range(None, 118, None)
    ('1 or more', '')
    """
    if low_s is None:
        return ""
    if median_s < SECONDS_UP_TO:
        low = f"{floor(low_s / 10.0) * 10}"
        if high_s is None:
            return f"{low} or more"
        if high_s > 2 * SECONDS_UP_TO:
            return f"{low} s to {ceil(high_s / 60.0)} min"
        return f"{low} to {max(ceil(high_s / 10.0), 1) * 10}"
    unit_s = 60.0 if median_s < HOURS_FROM else 3600.0
    low = f"{floor(low_s / unit_s)}"
    return f"{low} or more" if high_s is None else f"{low} to {ceil(high_s / unit_s)}"


def _to(value: float, step: float) -> float:
    return floor(value / step + 0.5) * step
