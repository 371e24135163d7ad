"""The values that go into the store and come out of it; no SQL, no numpy."""

from dataclasses import dataclass
from enum import StrEnum


class LimitKind(StrEnum):
    """What the supply does at its limit: cut out, or hold the amps there."""

    TRIPS = "trips"
    LIMITS = "limits"


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What is known of a run when it begins.

    Parameters
    ----------
    limit_amps
        Amps at which the supply cuts out or holds.
    poll_s, horizon_s
        Seconds between polls; how far ahead the forecast looks.
    clock_speed
        1.0 for a real supply; more for a simulated one whose time is compressed.
    settings
        The effective settings of the run as JSON.
    """

    supply: str
    address: str
    limit_amps: float
    limit_kind: LimitKind = LimitKind.TRIPS
    identity: str = ""
    bath: str = ""
    bath_litres: float | None = None
    poll_s: float = 0.2
    horizon_s: float = 120.0
    clock_speed: float = 1.0
    settings: str = "{}"


@dataclass(frozen=True, slots=True)
class RunRow:
    """A stored run: its facts, and when it began and ended (None while it goes on)."""

    run: int
    facts: RunFacts
    program: str
    began_utc_ns: int
    utc_offset_s: int
    ended_utc_ns: int | None = None
    ended_t_ns: int | None = None
    ended_why: str | None = None


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of a run recorded by one recorder process.

    `clock_anchor_*` are the two machine clocks at which the run's (possibly sped-up) clock
    agreed with the machine's; with `RunFacts.clock_speed` they rebuild that clock elsewhere.
    `began_monotonic_ns` is that run clock's monotonic time at `began_t_ns`.
    """

    run: int
    segment: int
    boot_id: str
    pid: int
    began_seq: int
    began_t_ns: int
    began_utc_ns: int
    began_monotonic_ns: int
    clock_anchor_monotonic_ns: int
    clock_anchor_utc_ns: int
    cause: str


@dataclass(frozen=True, slots=True)
class RunSummary:
    """Figures of a run, whole or so far: what `bathvigil runs` prints.

    `samples` counts answered polls, `missing` unanswered ones, `gaps` stretches without answers,
    `alarms` the raises.
    """

    run: int
    seconds: float
    samples: int
    missing: int
    gaps: int
    amp_hours: float
    coverage: float
    alarms: int


@dataclass(frozen=True, slots=True)
class GapRow:
    """A stretch without answers; `ended_t_ns` is None while it lasts."""

    began_seq: int
    began_t_ns: int
    ended_t_ns: int | None
    polls: int
    reason: str
    detail: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A numbered moment that the operator marked; `text` may come later."""

    number: int
    t_ns: int
    utc_ns: int
    text: str = ""


@dataclass(frozen=True, slots=True)
class Prompt:
    """Something for the operator to do that is not an alarm, such as "strip-looks-finished"."""

    prompt: str
    seq: int
    t_ns: int
    message: str

    @property
    def t_s(self) -> float:
        """Seconds since the run began."""
        return self.t_ns / 1e9


NEXT_TRY = "next-try"
"""Status whose time is that of the next try to open a lost link, by the run's clock."""


@dataclass(frozen=True, slots=True)
class Status:
    """How one part of the recorder stands, such as "sound"; the newest word on it counts.

    `is_well` is None while it is not known.
    """

    name: str
    utc_ns: int
    text: str
    is_well: bool | None = None


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A setting that was another one when an interrupted run was taken up again.

    Also the machine's wall clock, where somebody set it during the run. `before` and `after` are
    JSON.
    """

    t_ns: int
    utc_ns: int
    name: str
    before: str
    after: str


class RequestKind(StrEnum):
    """What an operator can ask of the recorder."""

    ACKNOWLEDGE = "acknowledge"
    MARK = "mark"
    NOTE = "note"
    NEXT_STEP = "next-step"
    END_RUN = "end-run"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SOUND_HEARD = "sound-heard"
    JOB_CARD = "job-card"


@dataclass(frozen=True, slots=True)
class Request:
    """One request out of the table.

    `detail` is "ALARM#OCCURRENCE" for an acknowledgement or a shelf, the text for a note or mark,
    and `card_as_text` for a job card.
    `taken_utc_ns` is when the recorder took it up, `outcome` what became of it in words; None
    until then.
    """

    request: int
    run: int
    utc_ns: int
    kind: RequestKind
    detail: str = ""
    by: str = ""
    taken_utc_ns: int | None = None
    outcome: str | None = None
