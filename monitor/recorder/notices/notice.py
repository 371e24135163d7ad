"""The message about a raised alarm, for somebody who is away from the bench."""

from dataclasses import dataclass

from monitor.model.alarm import AlarmEvent, Priority
from monitor.model.run import RunRow
from monitor.text.alarms import action_of


@dataclass(frozen=True, slots=True)
class Notice:
    """One message.

    Parameters
    ----------
    key
        The same for every try to deliver it, so that a receiver can tell a repeat.
    title, text
        One line; and what is measured, with what to do.
    """

    key: str
    title: str
    text: str
    priority: Priority


def notice_of(run: RunRow, event: AlarmEvent) -> Notice:
    """The message about one raise of an alarm."""
    return Notice(
        key=f"{run.began_utc_ns}-{run.run}-{event.alarm}-{event.occurrence}",
        title=f"{run.facts.supply}: {event.alarm} ({event.priority.value})",
        text=f"{event.message}. {action_of(event)}".rstrip(),
        priority=event.priority,
    )


def trial_notice(utc_ns: int) -> Notice:
    """The message that tests whether notices arrive."""
    return Notice(
        key=f"{utc_ns}-trial",
        title="bathvigil: a trial notice",
        text="Nothing has happened. Somebody tries out whether notices arrive.",
        priority=Priority.LOW,
    )
