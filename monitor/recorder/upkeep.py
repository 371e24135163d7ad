"""The recorder's own health, looked after once a second: watchdog, freshness, room on the disk.

The watchdog is for a recorder that is stuck: it is fed while every polling thread has judged a row
just now and the writing comes round, and what it found is stored or told as `not-recording`. A
recorder that waits for a full disk must not be killed, for the readings that wait are in its
memory; a supply that is mute is no reason either. The heartbeat for the outside is stricter: it
asks for fresh samples of every supply, judged and stored.
"""

import os
import shutil
import socket
from collections.abc import Callable, Mapping, MutableMapping
from contextlib import suppress
from pathlib import Path

from drivers.base.clock import Clock
from monitor.model.alarm import AlarmName
from monitor.model.event import Status
from monitor.model.finding import Finding
from monitor.recorder.scribe import Scribe
from monitor.recorder.watched import Watched
from monitor.store.opening import wal_path
from monitor.store.opening_to_write import WAL_BYTES_KEPT
from monitor.text.badges import LOG_GROWS

LOOK_EVERY_S = 1.0
FRESH_S = 10.0
"""Real seconds: longer than any driver's deadlines add up to in one poll."""
LEAST_FREE_BYTES = 50_000_000
"""Days of one supply's readings; see the sizes in DEVELOPERS.md."""
MOST_LOG_BYTES = 4 * WAL_BYTES_KEPT
"""Of the write-ahead log; unless a reader blocks it, it stays under a third of `WAL_BYTES_KEPT`."""
ROOM_AGAIN = 1.2
"""So much more must be free before a disk that was almost full is so no more."""
DISK_EVERY = 10
"""Looks between two looks at the disk."""


class ServiceLine:
    """Datagrams to the service manager that started us; does nothing where there is none.

    The protocol is that of sd_notify(3): lines of KEY=VALUE to the socket that NOTIFY_SOCKET names.
    Ours, since the package sdnotify 0.3.2 (of 2017) waits for a manager that is busy, and leaves
    the name of the socket to every child.

    Parameters
    ----------
    environment
        Where NOTIFY_SOCKET may stand; it is taken out, so that no child of ours speaks for us.

    Examples
    --------
    >>> ServiceLine({}).is_there
    False
    """

    def __init__(self, environment: MutableMapping[str, str] | None = None) -> None:
        given = os.environ if environment is None else environment
        place = given.pop("NOTIFY_SOCKET", "")
        # A name that begins with @ lies in the abstract name space: unix(7).
        self._place = "\0" + place[1:] if place.startswith("@") else place

    @property
    def is_there(self) -> bool:
        """Whether a service manager listens."""
        return bool(self._place)

    def ready(self) -> None:
        """Say that the recorder polls."""
        self._say("READY=1")

    def alive(self) -> None:
        """Keep the manager's watchdog quiet for one more period."""
        self._say("WATCHDOG=1")

    def stopping(self) -> None:
        """Say that the recorder ends on purpose."""
        self._say("STOPPING=1")

    def _say(self, word: str) -> None:
        if not self._place or not hasattr(socket, "AF_UNIX"):
            return
        # A manager that is gone or busy is no reason to stop recording.
        with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
            line.setblocking(False)
            line.sendto(word.encode("ascii"), self._place)


class Upkeep:
    """Looks after one recorder.

    Parameters
    ----------
    store
        Its disk is watched.
    watched
        The runs.
    report
        Called with whether the disk is almost full.
    note_status
        Called where the store's log grows, and where that is over.
    """

    def __init__(
        self,
        store: Path,
        watched: Mapping[int, Watched],
        scribe: Scribe,
        real: Clock,
        service: ServiceLine,
        report: Callable[[Finding], None],
        note_status: Callable[[Status], None],
        least_free_bytes: int = LEAST_FREE_BYTES,
    ) -> None:
        self._store = store
        self._watched = watched
        self._scribe = scribe
        self._real = real
        self._service = service
        self._report = report
        self._least_free_bytes = least_free_bytes
        self._is_low = False
        self._note_status = note_status
        self._log_grows = False
        self._looks = 0

    def look(self) -> None:
        """Feed the watchdog if all comes round; look at the disk every `DISK_EVERY` times."""
        if self.is_turning():
            self._service.alive()
        if self._looks % DISK_EVERY == 0:
            self.look_at_the_disk()
            self.look_at_the_log()
        self._looks += 1

    def is_turning(self) -> bool:
        """Whether every thread comes round: rows are judged, and stored or told as not stored."""
        now_ns = self._real.monotonic_ns()
        seen = [run.evaluated_ns for run in self._watched.values() if run.ended_why is None]
        return all(now_ns - ns < FRESH_S * 1e9 for ns in [*seen, self._scribe.seen_ns])

    def is_fresh(self) -> bool:
        """Whether a fresh sample of every supply was judged and stored."""
        now_ns = self._real.monotonic_ns()
        for run, watched in self._watched.items():
            if watched.ended_why is not None:
                continue
            for ns in (watched.sampled_ns, self._scribe.stored_ns(run)):
                if ns is None or now_ns - ns > FRESH_S * 1e9:
                    return False
        return not self._scribe.has_failed

    def look_at_the_disk(self) -> None:
        """Report whether the store's disk has room."""
        try:
            free = shutil.disk_usage(self._store.absolute().parent).free
        except OSError:
            return
        least = self._least_free_bytes * (ROOM_AGAIN if self._is_low else 1.0)
        is_low = self._is_low = free < least
        words = f"{free / 1e6:.0f} MB are free on the disk of {self._store.name}"
        self._report(Finding(AlarmName.DISK_LOW, is_low, words))

    def look_at_the_log(self) -> None:
        """Say so where a program holds on to an old state of the store, so that its log grows.

        SQLite cannot fold the log in while somebody may still read what lies in it; nothing is
        lost, but the disk fills with 200 kB a second at the most.
        """
        try:
            size = wal_path(self._store).stat().st_size
        except OSError:
            size = 0
        if (size > MOST_LOG_BYTES) == self._log_grows:
            return
        self._log_grows = not self._log_grows
        words = f"{LOG_GROWS}: close the other program that has {self._store.name} open"
        if not self._log_grows:
            words = "the store's log is small again"
        self._note_status(Status("log", self._real.utc_ns(), words, not self._log_grows))
