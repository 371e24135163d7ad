"""A run's rows in, arrays out, for reviews, reports and notebooks. Needs numpy."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.store.decoding import Row

SERIES_COLUMNS = "seq, t_ns, utc_ns, volts, amps, celsius, mode, quality"

_ROW = np.dtype(
    [
        ("seq", np.int64),
        ("t_ns", np.int64),
        ("utc_ns", np.int64),
        ("volts", np.float64),
        ("amps", np.float64),
        ("celsius", np.float64),
        ("mode", np.uint8),
        ("quality", np.uint8),
    ]
)


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Rows of a run as arrays of one length, one entry for every due poll.

    Parameters
    ----------
    seq, t_ns, utc_ns
        As in `Sample`; whole numbers, so that they still match the stored rows.
    volts, amps, celsius
        NaN where there is no value, and at every missing poll.
    mode, quality
        The codes of `Mode` and `Quality`; a missing poll has quality 3.
    """

    seq: NDArray[np.int64]
    t_ns: NDArray[np.int64]
    utc_ns: NDArray[np.int64]
    volts: NDArray[np.float64]
    amps: NDArray[np.float64]
    celsius: NDArray[np.float64]
    mode: NDArray[np.uint8]
    quality: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.seq)

    @property
    def t_s(self) -> NDArray[np.float64]:
        """Seconds since the run began."""
        return self.t_ns / 1e9


def series_of(rows: Iterable[Row]) -> Series:
    """Rows of SERIES_COLUMNS as arrays."""
    table = np.fromiter(rows, _ROW)
    # Copies, so that a caller who keeps one array does not keep all of them.
    return Series(*(np.ascontiguousarray(table[name]) for name in table.dtype.names or ()))
