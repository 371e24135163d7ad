"""Every row by its identifier."""

from benchmarks.hazards.amps_rows import AMPS_ROWS
from benchmarks.hazards.heat_and_meter_rows import HEAT_AND_METER_ROWS
from benchmarks.hazards.short_rows import SHORT_ROWS
from benchmarks.hazards.stack_and_end_rows import STACK_AND_END_ROWS
from benchmarks.hazards.time_rows import TIME_ROWS
from benchmarks.hazards.volts_rows import VOLTS_ROWS

_GROUPS = (SHORT_ROWS, AMPS_ROWS, VOLTS_ROWS, TIME_ROWS, HEAT_AND_METER_ROWS, STACK_AND_END_ROWS)
ROWS = {row.row: row for group in _GROUPS for row in group}
