"""Which values stand in which table of the store."""

from enum import Enum

from drivers.reading import Mode
from monitor.model.alarm import AlarmEvent
from monitor.model.card import JobCard
from monitor.model.entry import Entry
from monitor.model.estimate import Estimate
from monitor.model.event import Mark, Prompt, SettingChange, Status
from monitor.model.explanation import Explanation
from monitor.model.outcome import Outcome
from monitor.model.request import Request
from monitor.model.run import GapRow, LimitKind, RunFacts, RunRow, Segment
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.forward_rows import Stretch
from monitor.store.mapping import Cell, Row, Table

LIMIT_WORDS: dict[Enum, str] = {LimitKind.HOLDS: "limits"}
"""The table's CHECK is older than the name, and lets no other word pass."""

ALARMS = Table("alarms", AlarmEvent)
BATH_ENTRIES = Table("bath_entries", Entry)
CARDS = Table("job_cards", JobCard, blank={"way"})
EXPLANATIONS = Table("explanations", Explanation, renamed={"order": "events"})
FACTS = Table("runs", RunFacts, words=LIMIT_WORDS)
GAPS = Table("gaps", GapRow)
MARKS = Table("marks", Mark)
OUTCOMES = Table("outcomes", Outcome)
PROMPTS = Table("prompts", Prompt)
REQUESTS = Table("requests", Request)
RUNS = Table("runs", RunRow, words=LIMIT_WORDS)
SEGMENTS = Table("segments", Segment)
SETTING_CHANGES = Table("setting_changes", SettingChange)
STATUSES = Table("status", Status)
STRETCHES = Table("forward_stretches", Stretch)

ESTIMATES = Table(
    "estimates",
    Estimate,
    renamed={"share": "hottest_share", "in_s": "hottest_in_s"},
    decimals={
        "trip_in_s": 3,
        "trip_in_low_s": 3,
        "trip_in_high_s": 3,
        "chance_within_horizon": 4,
        "amp_hours": 6,
        "amp_hours_low": 6,
        "amp_hours_high": 6,
        "coverage": 6,
        "siemens": 6,
        "siemens_at_start": 6,
        "siemens_per_minute": 6,
        "amps_expected": 4,
        "warming_share": 4,
        "celsius": 3,
        "siemens_at_25": 6,
        "warming_rise": 5,
        "hottest_share": 4,
        "hottest_in_s": 3,
        "bath_in_s": 3,
        "amps_per_dm2": 4,
        "extra_ohms": 6,
        "polarisation_volts": 4,
    },
)
"""Rounded to a millisecond, microsiemens and microampere-hour: finer than any estimate is, and a
fifth of the bytes once it is packed. A value that is sent twice is the same both times. The order
of the fields is that of the columns in sealed chunks: a new field goes with a new kind of chunk."""

SAMPLE_COLUMNS = "seq, t_ns, utc_ns, latency_us, volts, amps, celsius, mode, quality, reason"
"""Samples and gaps share a table, and there are many: by hand, which is quicker."""
SAMPLE_NAMES = tuple(SAMPLE_COLUMNS.split(", "))
CHUNK_CELLS = ", ".join(f"{name}_packed" for name in SAMPLE_NAMES)
"""The columns of a chunk, one for each column of the samples."""


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


def row_of(cells: Row, detail: str) -> Sample | Gap:
    """The value of SAMPLE_COLUMNS; `detail` is that of the stretch which a missing poll begins.

    Raises
    ------
    ValueError
        A mode or quality that nobody knows.
    """
    seq, t_ns, utc_ns, latency_us, volts, amps, celsius, mode, quality, reason = cells
    if quality == Quality.MISSING:
        return Gap(seq, t_ns, utc_ns, reason or "", detail)
    return Sample(
        seq, t_ns, utc_ns, latency_us, volts, amps, celsius, Mode(mode), Quality(quality), reason
    )
