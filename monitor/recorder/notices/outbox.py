"""Notices that wait, kept in a small file beside the store so that a kill loses none.

Not in the store itself: a disk that is full or a store that is locked is what a notice tells of.
Where the file cannot be written either, the notices wait in memory. Putting one in never waits for
a disk: whoever called `put` is a polling thread; `keep` writes, in another thread.
"""

import json
import os
import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from monitor.base.own_file import own_opener
from monitor.model.alarm import Priority
from monitor.recorder.notices.notice import Notice

MOST = 200
"""Notices that wait for one channel; the oldest go first."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A notice on its way through one channel, and how often it was tried."""

    channel: str
    notice: Notice
    tries: int = 0


def outbox_path(store: Path) -> Path:
    """Where the notices of a store wait."""
    return store.with_name(store.name + ".notices")


class Outbox:
    """The notices of one recorder; callable from any thread.

    Parameters
    ----------
    path
        The file; what a killed recorder left in it is taken up.
    channels
        Those of the settings; what waits for another one is let go.
    """

    def __init__(self, path: Path, channels: Sequence[str]) -> None:
        self._path = path
        self._lock = threading.Lock()
        self._disk = threading.Lock()
        self.has_news = threading.Event()
        """Set by `put`: the file is behind until `keep` is called."""
        self._waiting = [item for item in _read(path) if item.channel in channels]
        self.dropped = 0

    def put(self, channel: str, notice: Notice) -> None:
        """Let a notice wait for a channel; one that waits there already is passed over.

        Never waits for a disk; call `keep`, elsewhere, to have it survive a kill.
        """
        with self._lock:
            mine = [item for item in self._waiting if item.channel == channel]
            if any(item.notice.key == notice.key for item in mine):
                return
            if len(mine) >= MOST:
                self._waiting.remove(mine[0])
                self.dropped += 1
            self._waiting.append(Waiting(channel, notice))
        self.has_news.set()

    def first(self, channel: str) -> Waiting | None:
        """What has waited longest for a channel."""
        with self._lock:
            return next((item for item in self._waiting if item.channel == channel), None)

    def count(self, channel: str) -> int:
        """How many wait for a channel."""
        with self._lock:
            return sum(item.channel == channel for item in self._waiting)

    def tried(self, waiting: Waiting) -> Waiting:
        """Count one more try."""
        with self._lock:
            later = replace(waiting, tries=waiting.tries + 1)
            self._waiting = [later if item == waiting else item for item in self._waiting]
        self.keep()
        return later

    def done(self, waiting: Waiting) -> None:
        """Let go of a notice that was delivered or given up."""
        with self._lock:
            self._waiting = [item for item in self._waiting if item != waiting]
        self.keep()

    def keep(self) -> None:
        """Write what waits to the file; where that fails it waits in memory."""
        part = self._path.with_name(self._path.name + ".part")
        with self._disk, suppress(OSError):
            self.has_news.clear()
            with self._lock:
                waiting = list(self._waiting)
            lines = [
                json.dumps({"channel": item.channel, "tries": item.tries, **asdict(item.notice)})
                for item in waiting
            ]
            with open(part, "w", encoding="utf-8", opener=own_opener) as file:
                file.write("".join(f"{line}\n" for line in lines))
                file.flush()
                os.fsync(file.fileno())
            part.replace(self._path)


def _read(path: Path) -> list[Waiting]:
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
    items = []
    for line in lines:
        # A line that was cut or spoilt by a power failure is no reason to lose the others.
        with suppress(ValueError, KeyError, TypeError, OverflowError, RecursionError):
            fields = json.loads(line)
            priority = Priority(fields["priority"])
            notice = Notice(str(fields["key"]), str(fields["title"]), str(fields["text"]), priority)
            items.append(Waiting(str(fields["channel"]), notice, int(fields["tries"])))
    return items
