"""A row in; whether the machine paused or another supply answers, and in which words, out.

A sample settles both. A poll that was asked and not answered ends a pause, and says nothing of who
would have answered.
"""

from drivers.errors import WrongSupply
from monitor.alarms.catalogue import HOST_PAUSED, WATCH_FAILED, WRONG_SUPPLY
from monitor.alarms.conditions import Finding
from monitor.model.sample import Gap, Sample

PAUSED = "host paused"
"""The reason of the polls that were missed while the machine or the recorder stood still."""

FAILED = "program failed"
"""The reason of polls that a bug of ours keeps from being asked."""

WATCHED = Finding(WATCH_FAILED, False, "it is watched again")
ALL_WELL = (
    WATCHED,
    Finding(WRONG_SUPPLY, False, "the run's own supply answers again"),
    Finding(HOST_PAUSED, False, "the machine goes on"),
)


def interruptions(row: Sample | Gap) -> tuple[Finding, ...]:
    """What one row says of interruptions, causes of silence that are alarms of their own."""
    if isinstance(row, Sample):
        return ALL_WELL
    is_paused = row.reason == PAUSED
    paused_words = row.detail or row.reason if is_paused else "the machine goes on"
    return (
        WATCHED,
        Finding(WRONG_SUPPLY, row.reason == WrongSupply.reason or None, row.detail or row.reason),
        Finding(HOST_PAUSED, is_paused, paused_words),
    )
