"""The one thread that writes the store: rows and what they mean, in batches.

Polling and alarms never wait for it: what it cannot write yet waits in a bounded ring. It also
brings the operator's requests from the store to the recorder.
"""

import threading
from collections import deque
from collections.abc import Callable
from itertools import islice

from drivers.base.clock import Clock
from monitor.base.errors import StoreError
from monitor.model.alarm import AlarmEvent
from monitor.model.estimate import Estimate
from monitor.model.event import Mark, SettingChange, Status
from monitor.model.request import Request
from monitor.model.sample import Gap, Sample
from monitor.recorder.mishap import traceback_of
from monitor.store.failures import StoreGone
from monitor.store.writer import Entry, StoreWriter
from monitor.text.badges import WRITING_FAILED
from monitor.watch.vigil import Verdict

BATCH_S = 0.25
"""Real seconds between commits; an alarm is committed at once."""
BATCH = 2_000
"""Entries in one transaction at the most."""
RING = 200_000
"""Entries that wait for a store that cannot be written: hours of one supply at 5 Hz."""
PUT_BACK_AFTER_S = 2.0
"""Real seconds after which a store that is gone is put back: a file that is only being exchanged
is back sooner."""
ESTIMATE_NS = 1_000_000_000
"""Estimates are stored this far apart, and with every change of an alarm."""

TakesRequest = Callable[[Request], str]
TellsTrouble = Callable[[str | None], None]


class Scribe:
    """Writes the store in a thread of its own.

    Parameters
    ----------
    writer
        Opens the store; called in the scribe's thread, where SQLite wants to stay.
    real
        The machine's clock.
    take
        Called with each of the operator's requests; gives the outcome in words.
    tell
        Called with a sentence when the store fails, and with None when it works again.
    broke
        Called with what a bug of ours broke, which is then passed over.
    """

    def __init__(
        self,
        writer: StoreWriter,
        real: Clock,
        take: TakesRequest,
        tell: TellsTrouble,
        broke: Callable[[str, BaseException], None] = lambda part, bug: None,
    ) -> None:
        self._writer = writer
        self._real = real
        self._take = take
        self._tell = tell
        self._broke = broke
        self._ring: deque[Entry] = deque()
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._last_estimate_ns: dict[int, int] = {}
        self._unstored: dict[int, Estimate] = {}
        self._runs: set[int] = set()
        self.has_failed = False
        """True while the store cannot be written; an alarm says so."""
        self.lost = 0
        """Entries that the full ring has dropped, the oldest first."""
        self.seen_ns = real.monotonic_ns()
        """When the writing last came round, whatever the store said."""
        self._stored_ns: dict[int, int] = {}
        self._has_broken = False
        self._gone_since_ns: int | None = None
        self._thread = threading.Thread(target=self._work, name="scribe", daemon=True)

    def start(self, runs: set[int]) -> None:
        """Begin to write, and to look for requests to these runs."""
        self._runs = set(runs)
        self._thread.start()

    def note(self, run: int, row: Sample | Gap, verdict: Verdict) -> None:
        """Take one row with its meaning; never blocks for longer than a list is locked."""
        entries: list[Entry] = [(run, row)]
        due = row.t_ns - self._last_estimate_ns.get(run, -ESTIMATE_NS) >= ESTIMATE_NS
        self._unstored.pop(run, None)
        if due or verdict.events:
            entries.append((run, verdict.estimate))
            self._last_estimate_ns[run] = row.t_ns
        else:
            self._unstored[run] = verdict.estimate
        entries.extend((run, event) for event in verdict.events)
        entries.extend((run, prompt) for prompt in verdict.prompts)
        if verdict.explanation is not None:
            entries.append((run, verdict.explanation))
        self._put(entries)
        if verdict.events:
            self._wake.set()

    def note_apart(self, run: int, thing: AlarmEvent | Mark | Status | SettingChange) -> None:
        """Take what belongs to no row: an acknowledgement, a mark, a status."""
        self._put([(run, thing)])
        self._wake.set()

    @property
    def waiting(self) -> int:
        """Entries that wait for the store."""
        return len(self._ring)

    def stored_ns(self, run: int) -> int | None:
        """The machine's monotonic time at which a sample of a run was last committed."""
        return self._stored_ns.get(run)

    def close(self) -> None:
        """Write what waits, as far as the store lets it; with the newest estimates."""
        self._put(list(self._unstored.items()))
        self._stop.set()
        self._wake.set()
        self._thread.join(timeout=10)

    def _put(self, entries: list[Entry]) -> None:
        with self._lock:
            self._ring.extend(entries)
            while len(self._ring) > RING:
                self._ring.popleft()
                self.lost += 1

    def _work(self) -> None:
        while not self._stop.is_set():
            self._real.wait(BATCH_S, self._wake)
            self._wake.clear()
            self._write()
            self._carry_requests()
            self.seen_ns = self._real.monotonic_ns()
        self._write()

    def _write(self) -> None:
        while self._write_batch():
            pass

    def _write_batch(self) -> bool:
        """Write up to `BATCH` entries; True where more wait and the store takes them."""
        with self._lock:
            batch = list(islice(self._ring, BATCH))
            lost = self.lost
        if not batch:
            return False
        try:
            self._writer.write(batch)
        except StoreGone as failure:
            self._fail(str(failure))
            return self._is_put_back()
        except StoreError as failure:
            self._fail(str(failure))
            return False
        except Exception as bug:
            # A bug of ours is a store that fails: what waits is kept, and tried again.
            if not self.has_failed:
                self._note_state(f"{WRITING_FAILED}: {traceback_of(bug)}", False)
            self._fail(f"the writing failed: {type(bug).__name__}: {bug}")
            return False
        now_ns = self._real.monotonic_ns()
        for run, entry in batch:
            if isinstance(entry, Sample):
                self._stored_ns[run] = now_ns
        self._gone_since_ns = None
        if self.has_failed:
            self.has_failed = False
            self._tell(None)
            if self._has_broken:
                self._note_state("readings are stored again", True)
        with self._lock:
            # What the full ring dropped while this batch was written was of this batch.
            for _ in range(len(batch) - min(self.lost - lost, len(batch))):
                self._ring.popleft()
            return bool(self._ring)

    def _is_put_back(self) -> bool:
        """Put a deleted store back, unless the files there are just being changed."""
        now_ns = self._real.monotonic_ns()
        if self._gone_since_ns is None:
            self._gone_since_ns = now_ns
        is_settled = now_ns - self._gone_since_ns >= PUT_BACK_AFTER_S * 1e9
        if not (is_settled or self._stop.is_set()):
            return False
        try:
            return self._writer.put_back()
        except StoreError as failure:
            self._fail(str(failure))
            return False

    def _note_state(self, text: str, is_well: bool) -> None:
        self._has_broken = not is_well
        status = Status("writing", self._real.utc_ns(), text, is_well)
        self._put([(run, status) for run in self._runs])

    def _fail(self, why: str) -> None:
        if not self.has_failed:
            self.has_failed = True
            self._tell(why)

    def _carry_requests(self) -> None:
        try:
            for run in self._runs:
                for request in self._writer.take_requests(run):
                    self._writer.answer_request(request, self._outcome(request))
        except StoreError:
            # The next round asks again; a store that fails is told of by the writing.
            return

    def _outcome(self, request: Request) -> str:
        try:
            return self._take(request)
        except Exception as bug:
            # One request that goes wrong must not end the writing.
            self._broke("the operator's request", bug)
            return f"failed: {type(bug).__name__}: {bug}"
