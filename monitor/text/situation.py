"""Makes the `Situation` that texts are written from, of what a reader knows of a run."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from monitor.model.alarm import AlarmEvent
from monitor.model.estimate import Estimate
from monitor.model.event import NEXT_TRY, Status
from monitor.model.run import GapRow, RunRow, Segment
from monitor.model.sample import Gap, Sample
from monitor.text.standing import Situation

LONGEST_WAIT_S = 15.0
"""No wait between two tries to open a lost link is longer."""


def silent_since_s(last_sample: Sample | None, gaps: Sequence[GapRow]) -> float | None:
    """Run seconds since when no poll was answered; None where none ever was.

    Parameters
    ----------
    last_sample
        The newest answered row, where it is known.
    gaps
        The stretches without answers, oldest first.
    """
    if last_sample is not None:
        return last_sample.t_s
    lasting = [gap for gap in gaps if gap.ended_t_ns is None]
    return lasting[-1].began_t_ns / 1e9 if lasting and lasting[-1].began_seq > 0 else None


def situation_at(
    now_s: float,
    row: RunRow,
    segment: Segment | None,
    last: Sample | Gap | None,
    since_s: float | None,
    estimate: Estimate | None,
    alarms: Sequence[AlarmEvent],
    statuses: Mapping[str, Status] = MappingProxyType({}),
) -> Situation:
    """How the run looks at this moment, run seconds.

    Parameters
    ----------
    since_s
        See `silent_since_s`.
    alarms
        The latest event of every alarm that is not back to normal.
    statuses
        How the recorder's parts stand.
    """
    ended_s = None if row.ended_t_ns is None else row.ended_t_ns / 1e9
    ended = row.ended_utc_ns is not None
    if ended and ended_s is None and last is not None:
        ended_s = last.t_s
    began_s = 0.0 if segment is None else segment.began_t_ns / 1e9
    return Situation(
        facts=row.facts,
        last=last,
        age_s=now_s - (began_s if last is None else last.t_s),
        silent_s=now_s - since_s if isinstance(last, Gap) and since_s is not None else None,
        estimate=estimate,
        alarms=tuple(alarms),
        ended=ended,
        ended_s=ended_s,
        ended_why=row.ended_why,
        next_try_s=next_try_s(statuses.get(NEXT_TRY), row, now_s),
    )


def next_try_s(status: Status | None, row: RunRow, now_s: float) -> float | None:
    """Seconds of real time until a lost link is tried again; None where nothing of use was told.

    A time further off than any wait comes of a wall clock that was set.
    """
    if status is None:
        return None
    left_s = (status.utc_ns - row.began_utc_ns) / 1e9 - now_s
    left_s /= row.facts.clock_speed
    return left_s if 0.0 < left_s <= LONGEST_WAIT_S else None
