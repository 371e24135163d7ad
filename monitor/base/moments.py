"""Nanoseconds in, text for people out: the moment in UTC, and how long something took."""

from datetime import UTC, datetime, timedelta, timezone


def utc_text(utc_ns: int) -> str:
    """ISO 8601 in UTC with milliseconds.

    >>> utc_text(1_790_000_000_123_456_789)
    '2026-09-21T14:13:20.123Z'
    """
    moment = datetime.fromtimestamp(utc_ns // 1_000_000_000, UTC)
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{utc_ns // 1_000_000 % 1000:03d}Z"


def local_minute(utc_ns: int, utc_offset_s: int) -> str:
    """Date and time to the minute, at the place where the run was made.

    >>> local_minute(1_790_000_000_000_000_000, 7200)
    '2026-09-21 16:13'
    """
    zone = timezone(timedelta(seconds=utc_offset_s))
    return f"{datetime.fromtimestamp(utc_ns / 1e9, zone):%Y-%m-%d %H:%M}"


def minutes_text(seconds: float) -> str:
    """A duration as minutes and seconds.

    >>> minutes_text(754.2)
    '12:34'
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
