"""A stored run in, a Parquet file out, for programs that read columns. Needs pyarrow."""

from pathlib import Path
from typing import TYPE_CHECKING

from monitor.base.errors import BathvigilError
from monitor.base.whole_file import NotWritten, whole_path
from monitor.export.export_rows import Page, Rows, Tell, pages_of, quiet

if TYPE_CHECKING:
    from pyarrow import RecordBatch, Schema

GROUP_ROWS = 65_536
"""Rows of a row group: bounds memory."""


class ExtraNotThere(BathvigilError):
    """A library that only some exports need is not installed."""


def export_parquet(run: Rows, to: Path, *, tell: Tell = quiet) -> int:
    """Write every due poll of a run; `utc` to the nanosecond, missing values as nulls.

    Parameters
    ----------
    to, tell
        As in `export_csv`.

    Returns
    -------
    int
        The number of rows.

    Raises
    ------
    ExtraNotThere
        pyarrow is not installed.
    NotWritten
        The file cannot be written; an older one at its place is untouched.
    """
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError as error:
        raise ExtraNotThere(
            "Parquet needs pyarrow; install it with: pip install 'bathvigil[parquet]'"
        ) from error
    word = pa.dictionary(pa.int8(), pa.string())
    schema = pa.schema(
        [
            pa.field("seq", pa.int64(), nullable=False),
            pa.field("t_s", pa.float64(), nullable=False),
            pa.field("utc", pa.timestamp("ns", "UTC"), nullable=False),
            ("volts", pa.float64()),
            ("amps", pa.float64()),
            ("celsius", pa.float64()),
            ("mode", word),
            pa.field("quality", word, nullable=False),
            ("reason", pa.string()),
        ]
    )
    written = 0
    try:
        with whole_path(to) as part, parquet.ParquetWriter(part, schema) as file:
            waiting: list[RecordBatch] = []
            rows = 0
            for page in pages_of(run):
                waiting.append(_batch(page, schema))
                rows += len(page)
                if rows >= GROUP_ROWS:
                    file.write_table(pa.Table.from_batches(waiting))
                    waiting, rows = [], 0
                written += len(page)
                tell(len(page))
            if waiting:
                file.write_table(pa.Table.from_batches(waiting))
    except pa.ArrowException as error:
        raise NotWritten(f"{to}: cannot be written ({error})") from error
    return written


def _batch(page: Page, schema: "Schema") -> "RecordBatch":
    import pyarrow as pa

    columns = (
        page.seqs,
        [t_ns / 1e9 for t_ns in page.times_ns],
        page.moments_ns,
        page.volts,
        page.amps,
        page.celsius,
        page.modes,
        page.qualities,
        page.reasons,
    )
    return pa.record_batch(
        [pa.array(list(column), field.type) for column, field in zip(columns, schema, strict=True)],
        schema=schema,
    )
