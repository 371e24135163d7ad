"""Rows of the store's tables in, values out.

The tables are STRICT, so a cell has its column's type; a code that nobody knows raises
ValueError, which the reader takes for a damaged file.
"""

import json
from typing import Any, TypeAlias

from drivers.reading import Mode
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.estimate import Charge, Estimate, Forecast, Heat, NoForecast
from monitor.model.event import Mark, Prompt, SettingChange, Status
from monitor.model.explanation import Cause, Explanation, Happening
from monitor.model.request import Request, RequestKind
from monitor.model.run import GapRow, LimitKind, RunFacts, RunRow, Segment
from monitor.model.sample import Gap, Quality, Sample

Row: TypeAlias = tuple[Any, ...]  # as sqlite3 types it


def row_of(cells: Row) -> Sample | Gap:
    """SAMPLE_COLUMNS, and the detail of the stretch that a missing poll begins."""
    seq, t_ns, utc_ns, latency_us, volts, amps, celsius, mode, quality, reason, detail = cells
    if quality == Quality.MISSING:
        return Gap(seq, t_ns, utc_ns, reason or "", detail or "")
    return Sample(
        seq, t_ns, utc_ns, latency_us, volts, amps, celsius, Mode(mode), Quality(quality), reason
    )


def estimate_of(cells: Row) -> Estimate:
    """A row of ESTIMATE_COLUMNS."""
    trip_in_s, low_s, high_s, chance, why = cells[2:7]
    reason = None if why is None else NoForecast(why)
    forecast = Forecast(trip_in_s, low_s, high_s, chance, reason)
    charge = Charge(*cells[7:11])
    values: Row = (
        *cells[:2],
        forecast,
        charge,
        *cells[11:17],
        bool(cells[17]),
        *cells[18:20],
        Heat(*cells[20:25]),
        *cells[25:27],
    )
    return Estimate(*values)


def alarm_of(cells: Row) -> AlarmEvent:
    """A row of ALARM_COLUMNS."""
    alarm, occurrence, change, state, priority, *rest = cells
    return AlarmEvent(alarm, occurrence, Change(change), State(state), Priority(priority), *rest)


def prompt_of(cells: Row) -> Prompt:
    """A row of PROMPT_COLUMNS."""
    return Prompt(*cells)


def explanation_of(cells: Row) -> Explanation:
    """A row of EXPLANATION_COLUMNS."""
    seq, t_ns, cause, sentence, series, events = cells
    order = tuple(Happening(t_s, words) for t_s, words in json.loads(events))
    return Explanation(Cause(cause), sentence, seq, t_ns, order, series)


def gap_row_of(cells: Row) -> GapRow:
    """A row of GAP_COLUMNS."""
    return GapRow(*cells)


def mark_of(cells: Row) -> Mark:
    """A row of number, t_ns, utc_ns, text."""
    return Mark(*cells)


def status_of(cells: Row) -> Status:
    """A row of STATUS_COLUMNS."""
    name, utc_ns, text, is_well = cells
    return Status(name, utc_ns, text, None if is_well is None else bool(is_well))


def change_of(cells: Row) -> SettingChange:
    """A row of CHANGE_COLUMNS."""
    return SettingChange(*cells)


def run_of(cells: Row) -> RunRow:
    """A row of RUN_COLUMNS."""
    run, supply, address, limit_amps, limit_kind, *facts = cells[:12]
    return RunRow(
        run, RunFacts(supply, address, limit_amps, LimitKind(limit_kind), *facts), *cells[12:]
    )


def segment_of(cells: Row) -> Segment:
    """A row of SEGMENT_COLUMNS."""
    return Segment(*cells)


def request_of(cells: Row) -> Request:
    """A row of REQUEST_COLUMNS."""
    request, run, utc_ns, kind, *rest = cells
    return Request(request, run, utc_ns, RequestKind(kind), *rest)
