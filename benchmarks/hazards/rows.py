"""Every row by its identifier."""

from benchmarks.hazards.amps_rows import AMPS_ROWS

ROWS = {row.row: row for row in AMPS_ROWS}
