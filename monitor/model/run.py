"""A run, its facts, stretches and sums, as the store keeps them and screens read them."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.model.ranges import HORIZON_S, POLL_S


class LimitKind(StrEnum):
    """What the supply does at its limit: cut out, or hold the amps there."""

    TRIPS = "trips"
    HOLDS = "holds"


class EndReason(StrEnum):
    """Why a run ended; the store holds these words."""

    STOPPED = "stopped"
    TIME_OVER = "time is over"
    BY_OPERATOR = "ended by the operator"
    AFTER_CUT_OUT = "ended after a cut-out"
    INTERRUPTED = "the recorder was interrupted"


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
    poll_s: float = POLL_S
    horizon_s: float = HORIZON_S
    clock_speed: float = 1.0
    settings: str = "{}"


@dataclass(frozen=True, slots=True)
class RunRow:
    """A stored run: its facts, and when it began and ended (None while it goes on).

    `ended_why` is an `EndReason`; a store of another version may hold other words.
    """

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
