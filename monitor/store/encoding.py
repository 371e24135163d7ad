"""Values in, cells of the store's tables out; the column lists stand beside them."""

import json

from monitor.model.alarm import AlarmEvent
from monitor.model.estimate import Estimate
from monitor.model.event import Mark, Prompt, SettingChange, Status
from monitor.model.explanation import Explanation
from monitor.model.run import RunFacts, Segment
from monitor.model.sample import Gap, Quality, Sample

Cell = str | float | None

SAMPLE_COLUMNS = "seq, t_ns, utc_ns, latency_us, volts, amps, celsius, mode, quality, reason"
ESTIMATE_COLUMNS = (
    "seq, t_ns, trip_in_s, trip_in_low_s, trip_in_high_s, chance_within_horizon, why, amp_hours, "
    "amp_hours_low, amp_hours_high, coverage, siemens, siemens_at_start, siemens_per_minute, "
    "amps_expected, warming_share, celsius, in_contact, siemens_at_25, warming_rise, hottest, "
    "hottest_share, hottest_in_s, bath_in_s, amps_per_dm2, extra_ohms, polarisation_volts"
)
ALARM_COLUMNS = (
    "alarm, occurrence, change, state, priority, seq, t_ns, message, trip_in_s, trip_in_low_s, "
    "trip_in_high_s, by"
)
EXPLANATION_COLUMNS = "seq, t_ns, cause, sentence, series, events"
PROMPT_COLUMNS = "prompt, seq, t_ns, message"
MARK_COLUMNS = "number, t_ns, utc_ns, text"
STATUS_COLUMNS = "name, utc_ns, text, is_well"
CHANGE_COLUMNS = "t_ns, utc_ns, name, before, after"
GAP_COLUMNS = "began_seq, began_t_ns, ended_t_ns, polls, reason, detail"
FACT_COLUMNS = (
    "supply, address, limit_amps, limit_kind, identity, bath, bath_litres, poll_s, horizon_s, "
    "clock_speed, settings"
)
RUN_COLUMNS = (
    f"run, {FACT_COLUMNS}, program, began_utc_ns, utc_offset_s, ended_utc_ns, ended_t_ns, ended_why"
)
SEGMENT_COLUMNS = (
    "run, segment, boot_id, pid, began_seq, began_t_ns, began_utc_ns, began_monotonic_ns, "
    "clock_anchor_monotonic_ns, clock_anchor_utc_ns, cause"
)
REQUEST_COLUMNS = "request, run, utc_ns, kind, detail, by, taken_utc_ns, outcome"


def places(columns: str) -> str:
    """As many question marks as there are columns."""
    return ", ".join("?" * (columns.count(",") + 1))


def sample_cells(run: int, sample: Sample) -> tuple[Cell, ...]:
    """Run and SAMPLE_COLUMNS of an answered poll."""
    return (
        run,
        sample.seq,
        sample.t_ns,
        sample.utc_ns,
        sample.latency_us,
        sample.volts,
        sample.amps,
        sample.celsius,
        # A plain int: SQLite's binding is several times slower with a subclass.
        +sample.mode,
        +sample.quality,
        sample.reason,
    )


def gap_cells(run: int, gap: Gap) -> tuple[Cell, ...]:
    """Run and SAMPLE_COLUMNS of a poll without an answer."""
    missing = int(Quality.MISSING)
    return (run, gap.seq, gap.t_ns, gap.utc_ns, None, None, None, None, 0, missing, str(gap.reason))


def estimate_cells(run: int, estimate: Estimate) -> tuple[Cell, ...]:
    """Run and ESTIMATE_COLUMNS, rounded.

    To a millisecond, microsiemens and microampere-hour: finer than any estimate is, and a fifth
    of the bytes once it is packed. A value that is sent twice is the same both times.
    """
    forecast, charge, heat = estimate.forecast, estimate.charge, estimate.heat
    return (
        run,
        estimate.seq,
        estimate.t_ns,
        _rounded(forecast.trip_in_s, 3),
        _rounded(forecast.trip_in_low_s, 3),
        _rounded(forecast.trip_in_high_s, 3),
        _rounded(forecast.chance_within_horizon, 4),
        # As with the mode: a plain str is bound several times faster.
        forecast.why and forecast.why.value,
        _rounded(charge.amp_hours, 6),
        _rounded(charge.amp_hours_low, 6),
        _rounded(charge.amp_hours_high, 6),
        _rounded(charge.coverage, 6),
        _rounded(estimate.siemens, 6),
        _rounded(estimate.siemens_at_start, 6),
        _rounded(estimate.siemens_per_minute, 6),
        _rounded(estimate.amps_expected, 4),
        _rounded(estimate.warming_share, 4),
        _rounded(estimate.celsius, 3),
        int(estimate.in_contact),
        _rounded(estimate.siemens_at_25, 6),
        _rounded(estimate.warming_rise, 5),
        heat.hottest,
        _rounded(heat.share, 4),
        _rounded(heat.in_s, 3),
        _rounded(heat.bath_in_s, 3),
        _rounded(heat.amps_per_dm2, 4),
        _rounded(estimate.extra_ohms, 6),
        _rounded(estimate.polarisation_volts, 4),
    )


def alarm_cells(run: int, event: AlarmEvent) -> tuple[Cell, ...]:
    """Run and ALARM_COLUMNS."""
    return (
        run,
        str(event.alarm),
        event.occurrence,
        event.change.value,
        event.state.value,
        event.priority.value,
        event.seq,
        event.t_ns,
        event.message,
        event.trip_in_s,
        event.trip_in_low_s,
        event.trip_in_high_s,
        event.by,
    )


def fact_cells(facts: RunFacts) -> tuple[Cell, ...]:
    """FACT_COLUMNS."""
    return (
        facts.supply,
        facts.address,
        facts.limit_amps,
        facts.limit_kind.value,
        facts.identity,
        facts.bath,
        facts.bath_litres,
        facts.poll_s,
        facts.horizon_s,
        facts.clock_speed,
        facts.settings,
    )


def segment_cells(segment: Segment) -> tuple[Cell, ...]:
    """SEGMENT_COLUMNS."""
    return (
        segment.run,
        segment.segment,
        segment.boot_id,
        segment.pid,
        segment.began_seq,
        segment.began_t_ns,
        segment.began_utc_ns,
        segment.began_monotonic_ns,
        segment.clock_anchor_monotonic_ns,
        segment.clock_anchor_utc_ns,
        segment.cause,
    )


def explanation_cells(run: int, explanation: Explanation) -> tuple[Cell, ...]:
    """Run and EXPLANATION_COLUMNS."""
    events = [[one.t_s, one.words] for one in explanation.order]
    return (
        run,
        explanation.seq,
        explanation.t_ns,
        explanation.cause.value,
        explanation.sentence,
        explanation.series,
        json.dumps(events, separators=(",", ":"), allow_nan=False),
    )


def prompt_cells(run: int, prompt: Prompt) -> tuple[Cell, ...]:
    """Run and PROMPT_COLUMNS."""
    return (run, str(prompt.prompt), prompt.seq, prompt.t_ns, prompt.message)


def mark_cells(run: int, mark: Mark) -> tuple[Cell, ...]:
    """Run and MARK_COLUMNS."""
    return (run, mark.number, mark.t_ns, mark.utc_ns, mark.text)


def status_cells(run: int, status: Status) -> tuple[Cell, ...]:
    """Run and STATUS_COLUMNS."""
    is_well = None if status.is_well is None else int(status.is_well)
    return (run, status.name, status.utc_ns, status.text, is_well)


def change_cells(run: int, change: SettingChange) -> tuple[Cell, ...]:
    """Run and CHANGE_COLUMNS."""
    return (run, change.t_ns, change.utc_ns, change.name, change.before, change.after)


def _rounded(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(value, decimals)
