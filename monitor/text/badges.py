"""How the recorder's own parts stand: a few capital words for the head of a screen.

The text of a status that is not well begins with its badge and a colon, such as
"SOUND NOT CHECKED: aplay". Nothing is shown while all is well.
"""

from collections.abc import Iterable, Mapping
from typing import Protocol

from monitor.model.event import Status

SOUND_FAILED = "SOUND FAILED"
SOUND_NOT_CHECKED = "SOUND NOT CHECKED"
LINK_POOR = "LINK IS POOR"
SUPPLY_SLOW = "SUPPLY IS SLOW"
WRITING_FAILED = "WRITING FAILED"
WATCH_FAILED = "WATCH FAILED"
LOG_GROWS = "THE STORE'S LOG GROWS"
MAY_SLEEP = "THIS COMPUTER MAY GO TO SLEEP"
HEARTBEAT_FAILED = "HEARTBEAT FAILED"

BEHIND_FROM = 3_000
"""Readings that a server may lack before it is worth a word: ten minutes at 5 Hz."""


class Copy(Protocol):
    """What is known of the copy at one server."""

    @property
    def behind(self) -> int:
        """Readings that the server does not have yet."""

    @property
    def trouble_utc_ns(self) -> int | None:
        """When sending failed last."""

    @property
    def last_ok_utc_ns(self) -> int | None:
        """When sending went well last."""


def part_failed(part: str) -> str:
    """The badge of a part of the recorder that has crashed."""
    return f"{part.upper()} FAILED"


def notices(channel: str, is_well: bool | None) -> str:
    """The badge of one way of sending notices."""
    return f"NOTICES BY {channel.upper()} {'FAIL' if is_well is False else 'NOT SENT YET'}"


def out_of_service(alarms: Iterable[str]) -> str:
    """The badge of alarms that the settings have taken out of service."""
    return f"{', '.join(alarms).upper()} OUT OF SERVICE"


def badges(
    statuses: Mapping[str, Status], copies: Iterable[Copy] = ()
) -> tuple[tuple[str, bool], ...]:
    """Each badge, with True where the part has failed and False where it is only not known.

    Examples
    --------
    >>> badges({"sound": Status("sound", 0, "SOUND NOT CHECKED: aplay", None)})
    (('SOUND NOT CHECKED', False),)
    """
    shown = [
        (status.text.partition(":")[0], status.is_well is False)
        for status in statuses.values()
        if status.is_well is not True
    ]
    for copy in copies:
        waits = copy.trouble_utc_ns is not None and (
            copy.last_ok_utc_ns is None or copy.trouble_utc_ns > copy.last_ok_utc_ns
        )
        if waits and copy.behind:
            shown.append((f"COPY TO THE SERVER WAITS: {copy.behind} behind", True))
        elif copy.behind > BEHIND_FROM:
            shown.append((f"COPY IS {copy.behind} BEHIND", False))
    return tuple(shown)
