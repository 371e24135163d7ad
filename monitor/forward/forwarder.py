"""Sends the store to a server, one batch at a time: live points first, the rest gently."""

import threading
from collections.abc import Callable
from pathlib import Path

from drivers.base.clock import Clock
from monitor.base.errors import StoreError
from monitor.forward.delivery import Courier, Delivered
from monitor.forward.loading import Load, Loader
from monitor.forward.reply import Pause
from monitor.forward.sink import Sink
from monitor.settings.bench import ForwardSettings
from monitor.store.failures import gone
from monitor.store.forward_ledger import ForwardLedger
from monitor.store.forward_rows import Kind, Outcome
from monitor.store.reader import Store, open_store

LIVE_S = 0.5
"""Seconds between looks for new rows; the recorder commits them every 0.25 s."""
LIVE_ROWS = 1000
"""A run that is further behind than this is followed from its newest rows; the rest comes later."""
LIVE_TAIL = 100
"""So many of the newest rows are sent at once then."""
LOOKED_AT = 50
"""Stretches that lie back and are read for one batch at the most."""
STORE_AGAIN_S = 2.0


class Forwarder:
    """Sends what the store holds and a server does not have.

    The cursor moves only when the server has taken what lies before it, so whatever is killed or
    cut, a point is sent again rather than lost; the same series and time changes nothing there.

    Parameters
    ----------
    path
        A store that is there already.
    plan
        To where, under which names, and how fast.
    sink
        Takes the lines.
    clock
        Paces, and stamps what is kept of successes and failures.
    complain
        Called with one sentence where a failure begins, changes or ends.
    """

    def __init__(
        self,
        path: Path,
        plan: ForwardSettings,
        sink: Sink,
        clock: Clock,
        complain: Callable[[str], None],
    ) -> None:
        self._path = path
        self._plan = plan
        self._courier = Courier(sink)
        self._clock = clock
        self._complain = complain
        self._pause = Pause(f"{plan.site} {plan.bench}")
        self._open: _Open | None = None
        self._again_first = False
        self._paused_until_ns = 0
        self._live_due_ns = 0
        self._fill_due_ns = 0
        self.is_all_sent = False
        """True where the last look found nothing that the server lacks."""
        self.trouble: str | None = None
        """The failure that lasts, in words; None while all is well."""

    def close(self) -> None:
        """Give the store back."""
        if self._open is not None:
            self._open.close()
            self._open = None

    def run(self, stop: threading.Event, is_done: Callable[[], bool]) -> None:
        """Go on until told to stop, or until done."""
        while not stop.is_set():
            wait_s = self.step()
            if is_done():
                return
            if wait_s > 0:
                self._clock.wait(wait_s, stop)

    def look_again(self) -> None:
        """Let `is_all_sent` say how things stand from now on, not from the last look."""
        self.is_all_sent = False
        self._live_due_ns = 0

    def step(self) -> float:
        """Send one batch at the most; how many seconds to wait before the next step."""
        now_ns = self._clock.monotonic_ns()
        if now_ns < self._paused_until_ns:
            return (self._paused_until_ns - now_ns) / 1e9
        try:
            opened = self._opened()
            self._send_next(opened, now_ns)
        except StoreError as failure:
            self.close()
            self._tell(str(failure))
            self._paused_until_ns = now_ns + round(STORE_AGAIN_S * 1e9)
            return STORE_AGAIN_S
        after_ns = self._clock.monotonic_ns()
        due_ns = (
            self._live_due_ns if self.is_all_sent else min(self._live_due_ns, self._fill_due_ns)
        )
        return max(due_ns, self._paused_until_ns, after_ns) / 1e9 - after_ns / 1e9

    def _opened(self) -> "_Open":
        """The store, opened anew where another file lies in its place now."""
        if self._open is not None and self._open.is_gone():
            self.close()
            raise gone(self._path)
        if self._open is None:
            self._open = _Open(self._path, self._plan)
            # How this forwarder ended, and the server since, nobody knows.
            self._open.ledger.distrust()
        return self._open

    def _send_next(self, opened: "_Open", now_ns: int) -> None:
        if now_ns >= self._live_due_ns:
            load = self._live_load(opened)
            if load.pieces:
                self.is_all_sent = False
                if self._send(opened, load) and not load.is_full:
                    self._live_due_ns = now_ns + round(LIVE_S * 1e9)
                return
            self._live_due_ns = now_ns + round(LIVE_S * 1e9)
        if now_ns < self._fill_due_ns:
            return
        load = self._fill_load(opened)
        was_all_sent, self.is_all_sent = self.is_all_sent, not load.pieces
        if load.pieces and self._send(opened, load):
            took_ns = round(len(load.lines) / self._plan.back_fill_points_per_s * 1e9)
            self._fill_due_ns = now_ns + took_ns
        elif self.is_all_sent and not was_all_sent:
            opened.ledger.fold_log()

    def _live_load(self, opened: "_Open") -> Load:
        opened.ledger.follow_runs()
        stretches = opened.ledger.live()
        was_split = False
        for stretch in stretches:
            if stretch.kind is Kind.READING:
                head = opened.loader.head_of(stretch)
                if head - stretch.next_place > LIVE_ROWS:
                    for part in stretches:
                        if part.run == stretch.run and part.kind in (stretch.kind, Kind.ESTIMATE):
                            opened.ledger.split(part, max(head - LIVE_TAIL, part.next_place))
                    was_split = True
        return opened.loader.load(opened.ledger.live() if was_split else stretches)

    def _fill_load(self, opened: "_Open") -> Load:
        """What lies back: by turns what may be lost and what never was sent.

        By turns, so that a connection that is cut again and again still gets the rest through.
        """
        self._again_first = not self._again_first
        for is_again in (self._again_first, not self._again_first):
            stretches = opened.ledger.waiting(is_again, LOOKED_AT)
            if stretches:
                return opened.loader.load(stretches)
        return Load()

    def _send(self, opened: "_Open", load: Load) -> bool:
        """Deliver a batch and move the cursor; False where it must be sent again later."""
        result = self._courier.deliver(load.lines)
        utc_ns, now_ns = self._clock.utc_ns(), self._clock.monotonic_ns()
        if result.may_have_lost:
            opened.ledger.distrust()
        if result.reply is not None:
            opened.ledger.note_trouble(_words(result), utc_ns)
        if not result.is_dealt_with:
            assert result.reply is not None
            wait_s = self._pause.after(result.reply)
            self._paused_until_ns = now_ns + round(wait_s * 1e9)
            self._tell(_words(result))
            return False
        # What is sent once more was counted when it was sent first.
        left_out, too_old = (0, 0) if load.is_again else (load.left_out, result.too_old)
        outcome = Outcome(result.taken, left_out, too_old, result.quarantined)
        opened.ledger.settle(load.pieces, outcome, utc_ns, now_ns)
        if load.lines:
            self._pause.over()
            self._tell(None)
        return True

    def _tell(self, trouble: str | None) -> None:
        """Say a failure once, not at every try, and its end."""
        if trouble != self.trouble:
            self._complain("forwarding goes on" if trouble is None else f"forwarding: {trouble}")
        self.trouble = trouble


class _Open:
    """A store open for reading, and for the forwarder's tables."""

    def __init__(self, path: Path, plan: ForwardSettings) -> None:
        self._path = path
        self._file = _identity(path)
        self.ledger = ForwardLedger(path, plan.place)
        try:
            self.store: Store = open_store(path)
        except BaseException:
            self.ledger.close()
            raise
        self.loader = Loader(self.store, self.ledger, plan.site, plan.bench)

    def is_gone(self) -> bool:
        return _identity(self._path) != self._file

    def close(self) -> None:
        self.store.close()
        self.ledger.close()


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino


def _words(result: Delivered) -> str:
    reply = result.reply
    assert reply is not None
    text = reply.text
    if reply.retry_after_s is not None:
        text += f"; it asks for {reply.retry_after_s:g} s of rest"
    return text
