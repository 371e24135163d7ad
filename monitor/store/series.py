"""The rows of a run as numpy arrays, for reviews, reports and notebooks."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from monitor.base.errors import BathvigilError
from monitor.store.mapping import Row
from monitor.store.tables import SAMPLE_NAMES

if TYPE_CHECKING:
    from pyarrow import Table

_ROW = np.dtype(
    [
        ("seq", np.int64),
        ("t_ns", np.int64),
        ("utc_ns", np.int64),
        ("latency_us", np.float64),
        ("volts", np.float64),
        ("amps", np.float64),
        ("celsius", np.float64),
        ("mode", np.uint8),
        ("quality", np.uint8),
    ]
)
_TAKEN = len(_ROW.names or ())


class ArrowNotThere(BathvigilError):
    """pyarrow is not installed."""


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

    def between(self, from_ns: int, to_ns: int) -> "Series":
        """The rows from one moment to another, both included, in ns since the run began."""
        inside = (self.t_ns >= from_ns) & (self.t_ns <= to_ns)
        if inside.all():
            return self
        return Series(*(getattr(self, field.name)[inside] for field in fields(self)))

    def arrow(self) -> "Table":
        """The same as an Arrow table: `t_s`, `utc` with its zone, missing values as nulls.

        Raises
        ------
        ArrowNotThere
            pyarrow is not installed.
        """
        try:
            import pyarrow as pa
        except ImportError as error:
            raise ArrowNotThere(
                "this needs pyarrow; install it with: pip install 'bathvigil[parquet]'"
            ) from error
        columns = {
            "seq": pa.array(self.seq),
            "t_s": pa.array(self.t_s),
            "utc": pa.array(self.utc_ns, pa.timestamp("ns", "UTC")),
        }
        for name in ("volts", "amps", "celsius"):
            values: NDArray[np.float64] = getattr(self, name)
            columns[name] = pa.array(values, mask=np.isnan(values))
        columns |= {"mode": pa.array(self.mode), "quality": pa.array(self.quality)}
        return pa.table(columns)


def series_of_cells(rows: Sequence[Row]) -> Series:
    """Tuples of SAMPLE_COLUMNS as arrays."""
    table = np.fromiter((row[:_TAKEN] for row in rows), _ROW, len(rows))
    # Copies, so that a caller who keeps one array does not keep all of them.
    return Series(*(np.ascontiguousarray(table[field.name]) for field in fields(Series)))


def joined(parts: Sequence[Series]) -> Series:
    """Several stretches as one."""
    if not parts:
        return series_of_cells([])
    if len(parts) == 1:
        return parts[0]
    return Series(
        *(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(Series))
    )


assert SAMPLE_NAMES[:_TAKEN] == _ROW.names
