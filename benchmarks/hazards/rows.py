"""Every row by its identifier."""

from benchmarks.hazards.amps_rows import AMPS_ROWS
from benchmarks.hazards.heat_and_meter_rows import HEAT_AND_METER_ROWS
from benchmarks.hazards.time_rows import TIME_ROWS
from benchmarks.hazards.volts_rows import VOLTS_ROWS

ROWS = {row.row: row for row in (*AMPS_ROWS, *VOLTS_ROWS, *TIME_ROWS, *HEAT_AND_METER_ROWS)}
