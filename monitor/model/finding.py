"""What a condition says of one alarm at one row, on its way to the board."""

from typing import NamedTuple

from monitor.model.alarm import AlarmName, Priority


class Finding(NamedTuple):
    """Whether one alarm's condition holds (None: cannot be known), and the sentence for it.

    A tuple, since a dozen are made with each sample: frozen dataclasses take three times as long.
    `at_once` passes over the alarm's delays, where a stronger finding has settled the matter.
    `priority` and `action` are this occurrence's own, where they are not the catalogue's.
    `explains` is False where it does not suppress the alarms that it can be the cause of.
    """

    alarm: AlarmName
    holds: bool | None
    message: str
    at_once: bool = False
    priority: Priority | None = None
    action: str = ""
    explains: bool = True
