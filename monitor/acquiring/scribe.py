"""Rows and verdicts in, committed batches out: the one thread that writes the store.

Polling and alarms never wait for it: what it cannot write yet waits in a bounded ring. It also
carries the operator's requests from the store to the recorder.
"""

import threading
from collections import deque
from collections.abc import Callable
from itertools import islice
from pathlib import Path

from drivers.clock import Clock
from monitor.alarms.alarm import AlarmEvent
from monitor.errors import StoreError
from monitor.sample import Gap, Sample
from monitor.store.rows import Mark, Request
from monitor.store.writer import Entry, StoreWriter
from monitor.vigil import Verdict

BATCH_S = 0.25
"""Real seconds between commits; an alarm is committed at once."""
BATCH = 2_000
"""Entries in one transaction at the most."""
RING = 200_000
"""Entries that wait for a store that cannot be written: hours of one supply at 5 Hz."""
ESTIMATE_NS = 1_000_000_000
"""Estimates are stored this far apart, and with every change of an alarm."""

TakesRequest = Callable[[Request], str]


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
    complain
        Called once with a sentence when the store fails, and once when it works again.
    """

    def __init__(
        self,
        store: Path,
        writer: StoreWriter,
        real: Clock,
        take: TakesRequest,
        complain: Callable[[str], None],
    ) -> None:
        self._store = store
        self._writer = writer
        self._real = real
        self._take = take
        self._complain = complain
        self._ring: deque[Entry] = deque()
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._last_estimate_ns: dict[int, int] = {}
        self._runs: set[int] = set()
        self._has_failed = False
        self.lost = 0
        self._thread = threading.Thread(target=self._work, name="scribe", daemon=True)

    def start(self, runs: set[int]) -> None:
        """Begin to write, and to look for requests to these runs."""
        self._runs = set(runs)
        self._thread.start()

    def note(self, run: int, row: Sample | Gap, verdict: Verdict) -> None:
        """Take one row with its meaning; never blocks for longer than a list is locked."""
        entries: list[Entry] = [(run, row)]
        due = row.t_ns - self._last_estimate_ns.get(run, -ESTIMATE_NS) >= ESTIMATE_NS
        if due or verdict.events:
            entries.append((run, verdict.estimate))
            self._last_estimate_ns[run] = row.t_ns
        entries.extend((run, event) for event in verdict.events)
        entries.extend((run, prompt) for prompt in verdict.prompts)
        self._put(entries)
        if verdict.events:
            self._wake.set()

    def note_apart(self, run: int, thing: AlarmEvent | Mark) -> None:
        """Take what belongs to no row: an acknowledgement or a mark."""
        self._put([(run, thing)])
        self._wake.set()

    def close(self) -> None:
        """Write what waits, as far as the store lets it."""
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
        except StoreError as failure:
            if not self._has_failed:
                self._complain(f"NOT RECORDING: {failure}; readings wait in memory")
            self._has_failed = True
            return False
        if self._has_failed:
            self._complain(f"recording again into {self._store}")
            self._has_failed = False
        with self._lock:
            # What the full ring dropped while this batch was written was of this batch.
            for _ in range(len(batch) - min(self.lost - lost, len(batch))):
                self._ring.popleft()
            return bool(self._ring)

    def _carry_requests(self) -> None:
        try:
            for run in self._runs:
                for request in self._writer.take_requests(run):
                    self._writer.answer_request(request, self._take(request))
        except StoreError:
            # The next round asks again; a store that fails is told of by the writing.
            return
