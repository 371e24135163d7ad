"""The one source of every table: a run's rows as columns of plain values, page by page.

What rows of one minute share is made once, so that an export of millions of rows stays quick.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from functools import cache
from itertools import repeat
from typing import Protocol

from drivers.reading import Mode
from monitor.base.errors import BathvigilError
from monitor.export.safe_text import safe_text
from monitor.model.sample import Quality
from monitor.store.mapping import Row

COLUMNS = ("t_s", "utc", "local", "volts", "amps", "celsius", "mode", "quality", "reason")
"""Of a table for programs."""

Tell = Callable[[int], None]
"""Called with the number of rows that were written since the last call."""
Values = Sequence[float | None]
Words = Sequence[str | None]

_MODES = {int(mode): mode.word for mode in Mode}
_QUALITIES = {int(quality): quality.word for quality in Quality}
_MISSING = int(Quality.MISSING)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND_NS = 1_000_000_000
_MINUTE_NS = 60 * _SECOND_NS
_MS_NS = 1_000_000


class ExtraNotThere(BathvigilError):
    """A library that only some formats need is not installed."""

    def __init__(self, library: str, extra: str) -> None:
        super().__init__(
            f".{extra} files need {library}; install it with: pip install 'bathvigil[{extra}]'"
        )


class Rows(Protocol):
    """What an export needs of a run; `StoredRun` is one."""

    run: int

    def pages(self, after_seq: int = -1) -> Iterator[list[Row]]:
        """See `StoredRun.pages`."""
        ...


def quiet(_: int) -> None:
    """A `Tell` that does nothing."""


@dataclass(frozen=True, slots=True)
class Page:
    """Some rows of a run, in order, as columns.

    `modes` has None where a poll had no answer; `reasons` are no formula to a spreadsheet.
    """

    seqs: Sequence[int]
    times_ns: Sequence[int]
    moments_ns: Sequence[int]
    volts: Values
    amps: Values
    celsius: Values
    modes: Words
    qualities: Sequence[str]
    reasons: Words

    def __len__(self) -> int:
        return len(self.seqs)


def pages_of(run: Rows, tell: Tell = quiet) -> Iterator[Page]:
    """Every due poll of a run, answered or not; `tell` is called after each page is used."""
    for rows in run.pages():
        seqs, times, moments, _, volts, amps, celsius, modes, qualities, reasons = zip(
            *rows, strict=True
        )
        words: Words = list(map(_MODES.__getitem__, modes))
        if _MISSING in qualities:
            words = [
                None if quality == _MISSING else word
                for word, quality in zip(words, qualities, strict=True)
            ]
        if any(reasons):
            reasons = tuple(reason and safe_text(reason) for reason in reasons)
        quality_words = list(map(_QUALITIES.__getitem__, qualities))
        yield Page(seqs, times, moments, volts, amps, celsius, words, quality_words, reasons)
        tell(len(seqs))


def seconds_text(ns: int) -> str:
    """Nanoseconds as seconds, exactly.

    Examples
    --------
    >>> seconds_text(12_345_678_901), seconds_text(-1)
    ('12.345678901', '-0.000000001')
    """
    whole, rest = divmod(abs(ns), _SECOND_NS)
    return f"{'-' if ns < 0 else ''}{whole}.{rest:09d}"


def seconds_texts(times_ns: Iterable[int]) -> list[str]:
    """The same of many times, none of them before the run began."""
    return [f"{whole}.{rest:09d}" for whole, rest in map(divmod, times_ns, repeat(_SECOND_NS))]


class Clock:
    """Makes the texts of moments.

    Parameters
    ----------
    zone
        Of the local times; None for this machine's.
    """

    def __init__(self, zone: tzinfo | None) -> None:
        self._zone = zone
        self._minute: int | None = None
        self._utc = self._local = self._offset = ""

    def texts(self, moments_ns: Iterable[int]) -> tuple[list[str], list[str], list[str]]:
        """UTC, local time without its offset, and the offset, with milliseconds cut off."""
        utc: list[str] = []
        local: list[str] = []
        offsets: list[str] = []
        seconds = _seconds_of_a_minute()
        for minute, rest in map(divmod, moments_ns, repeat(_MINUTE_NS)):
            if minute != self._minute:
                self._enter(minute)
            text = seconds[rest // _MS_NS]
            utc.append(f"{self._utc}{text}Z")
            local.append(f"{self._local}{text}")
            offsets.append(self._offset)
        return utc, local, offsets

    def _enter(self, minute: int) -> None:
        # Offsets are whole minutes since 1972: tz database, Africa/Monrovia was the last.
        utc = _EPOCH + timedelta(minutes=minute)
        local = utc.astimezone(self._zone).isoformat(timespec="seconds")
        self._minute = minute
        # The date, hour and minute take 17 characters, the seconds 2, the offset the rest.
        self._utc = utc.isoformat(timespec="seconds")[:17]
        self._local, self._offset = local[:17], local[19:]


@cache
def _seconds_of_a_minute() -> tuple[str, ...]:
    return tuple(f"{ms // 1000:02d}.{ms % 1000:03d}" for ms in range(60_000))
