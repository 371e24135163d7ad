"""A stored run in, its rows as columns of plain values out, page by page, for every export."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from drivers.reading import Mode
from monitor.export.safe_text import safe_text
from monitor.model.sample import Quality
from monitor.store.mapping import Row

Tell = Callable[[int], None]
"""Called with the number of rows that were written since the last call."""

_MODES = {int(mode): mode.word for mode in Mode}
_QUALITIES = {int(quality): quality.word for quality in Quality}
_MISSING = int(Quality.MISSING)

Values = Sequence[float | None]
Words = Sequence[str | None]


class Rows(Protocol):
    """What an export needs of a run; `StoredRun` is one."""

    run: int

    def pages(self, after_seq: int = -1) -> Iterator[list[Row]]:
        """See `StoredRun.pages`."""
        ...


def quiet(_: int) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Page:
    """Some rows of a run, in order, as columns.

    `modes` has None at polls without an answer; `reasons` are safe in a spreadsheet.
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


def pages_of(run: Rows) -> Iterator[Page]:
    """Every due poll of a run, answered or not."""
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
        yield Page(
            seqs,
            times,
            moments,
            volts,
            amps,
            celsius,
            words,
            list(map(_QUALITIES.__getitem__, qualities)),
            reasons,
        )
