"""A row in; whether the machine paused or another supply answers, and in which words, out.

A sample settles both. A poll that was asked and not answered ends a pause, and says nothing of who
would have answered.
"""

from drivers.errors import Reason
from monitor.model.alarm import AlarmName
from monitor.model.finding import Finding
from monitor.model.sample import Gap, GapReason, Sample

WATCHED = Finding(AlarmName.WATCH_FAILED, False, "it is watched again")
ALL_WELL = (
    WATCHED,
    Finding(AlarmName.WRONG_SUPPLY, False, "the run's own supply answers again"),
    Finding(AlarmName.HOST_PAUSED, False, "the machine goes on"),
)


def interruptions(row: Sample | Gap) -> tuple[Finding, ...]:
    """What one row says of interruptions, causes of silence that are alarms of their own."""
    if isinstance(row, Sample):
        return ALL_WELL
    is_paused = row.reason == GapReason.HOST_PAUSED
    paused_words = row.detail or row.reason if is_paused else "the machine goes on"
    return (
        WATCHED,
        Finding(
            AlarmName.WRONG_SUPPLY,
            row.reason == Reason.WRONG_SUPPLY or None,
            row.detail or row.reason,
        ),
        Finding(AlarmName.HOST_PAUSED, is_paused, paused_words),
    )
