"""Texts of moments (nanoseconds since 1970, UTC) and of durations (seconds)."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta, timezone


def utc_text(utc_ns: int) -> str:
    """ISO 8601 in UTC with milliseconds.

    >>> utc_text(1_790_000_000_123_456_789)
    '2026-09-21T14:13:20.123Z'
    """
    moment = datetime.fromtimestamp(utc_ns // 1_000_000_000, UTC)
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{utc_ns // 1_000_000 % 1000:03d}Z"


def local_minute(utc_ns: int, utc_offset_s: int | None = None) -> str:
    """Date and time to the minute, by a clock that is `utc_offset_s` ahead of UTC.

    Without it, by this machine's clock.

    >>> local_minute(1_790_000_000_000_000_000, 7200)
    '2026-09-21 16:13'
    """
    zone = None if utc_offset_s is None else timezone(timedelta(seconds=utc_offset_s))
    return f"{datetime.fromtimestamp(utc_ns / 1e9, UTC).astimezone(zone):%Y-%m-%d %H:%M}"


def local_s(utc_ns: int) -> float:
    """Seconds from 1970 by this machine's clock, summer time counted in."""
    offset = datetime.fromtimestamp(utc_ns / 1e9, UTC).astimezone().utcoffset() or timedelta()
    return utc_ns / 1e9 + offset.total_seconds()


def zone_text(utc_offset_s: int) -> str:
    """The zone of a clock that is so many seconds ahead of UTC.

    >>> zone_text(7200), zone_text(-12_600), zone_text(0)
    ('UTC+02:00', 'UTC-03:30', 'UTC')
    """
    return str(timezone(timedelta(seconds=utc_offset_s)))


def zone_names(moments_ns: Iterable[int]) -> str:
    """The names of this machine's zone at these moments, such as "CET" or "CET, CEST"."""
    moments = (datetime.fromtimestamp(utc_ns / 1e9, UTC).astimezone() for utc_ns in moments_ns)
    return ", ".join(dict.fromkeys(f"{moment:%Z}" for moment in moments))


def clock(seconds: float) -> str:
    """A duration: whole seconds that have passed, and hours from one hour on.

    Never rounded up: a clock that counts shows 0:59 until the minute is full.

    >>> clock(220.9), clock(3754.6), clock(-1)
    ('3:40', '1:02:34', '0:00')
    """
    whole = max(int(seconds), 0)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
