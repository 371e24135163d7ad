"""A sign of life for a monitor outside: a file that is touched, a web address that is fetched.

When the beats stop, the recorder is dead, stuck, blind, or cannot store: somebody should look.
"""

import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from http.client import HTTPException
from pathlib import Path

from drivers.base.clock import Clock
from monitor.model.event import Status
from monitor.text.badges import HEARTBEAT_FAILED

FETCH_WITHIN_S = 10.0


@dataclass(frozen=True, slots=True)
class HeartbeatPlan:
    """What is touched and fetched, and how often, seconds; nothing where neither is given."""

    file: Path | None = None
    url: str | None = None
    every_s: float = 30.0

    @property
    def is_wanted(self) -> bool:
        """Whether it names anything."""
        return self.file is not None or self.url is not None


class Heartbeat:
    """Beats while all is fresh.

    Parameters
    ----------
    plan
        Where and how often.
    is_fresh
        Whether fresh readings of every supply were judged and stored just now.
    note_status
        Called when a beat goes wrong, and when it goes well again.
    """

    def __init__(
        self,
        plan: HeartbeatPlan,
        real: Clock,
        is_fresh: Callable[[], bool],
        note_status: Callable[[Status], None],
    ) -> None:
        self._plan = plan
        self._real = real
        self._is_fresh = is_fresh
        self._note_status = note_status
        self._is_well: bool | None = None

    def beat(self) -> None:
        """Touch and fetch once, if all is fresh; may wait for the server."""
        if not self._is_fresh():
            return
        failures = [*self._touch(), *self._fetch()]
        is_well = not failures
        if is_well != self._is_well:
            self._is_well = is_well
            text = (
                f"{HEARTBEAT_FAILED}: {'; '.join(failures)}"
                if failures
                else "the heartbeat goes out"
            )
            self._note_status(Status("heartbeat", self._real.utc_ns(), text, is_well))

    def _touch(self) -> list[str]:
        if self._plan.file is None:
            return []
        try:
            self._plan.file.touch()
        except OSError as failure:
            return [f"{self._plan.file} cannot be touched: {failure.strerror}"]
        return []

    def _fetch(self) -> list[str]:
        if self._plan.url is None:
            return []
        try:
            urllib.request.urlopen(self._plan.url, timeout=FETCH_WITHIN_S).close()
        except (OSError, ValueError, HTTPException) as failure:
            return [f"the heartbeat's address is not reached: {failure}"[:120]]
        return []
