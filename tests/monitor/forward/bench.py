"""What the tests of forwarding share: a store with rows, a sink in memory, a forwarder by hand."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from monitor.base.secret import Secret
from monitor.forward.forwarder import Forwarder
from monitor.forward.reply import Meaning, Reply
from monitor.forward.sink import ServerSink, Sink
from monitor.model.event import Mark
from monitor.settings.bench import ForwardSettings
from monitor.store.forward_rows import ForwardState
from monitor.store.forward_state import forward_states
from monitor.store.writer import Entry, StoreWriter
from tests.clock import HandClock
from tests.monitor.store.bench import (
    BEGAN_UTC_NS,
    a_gap,
    a_run,
    a_sample,
    a_store,
    an_estimate,
    an_event,
)

BATCH = 900
"""Few enough that older rows are sealed as the run goes."""
TOKEN = "canary-4711"
PLAN = ForwardSettings(
    url="http://x", org="shop", bucket="benches", site="north yard", bench="bench-a"
)
TAKEN = Reply(Meaning.TAKEN, 204)
GONE = Reply(Meaning.UNREACHABLE, None, "no connection")


class MemorySink:
    """Keeps lines; answers the next writes by a script, and takes everything once it is empty."""

    def __init__(self, script: Sequence[Reply] = ()) -> None:
        self.script = list(script)
        self.taken: list[str] = []
        self.batches: list[list[str]] = []
        self.before: Callable[[], None] = lambda: None

    def write(self, lines: Sequence[str]) -> Reply:
        self.before()
        reply = self.script.pop(0) if self.script else TAKEN
        if reply.meaning is Meaning.TAKEN:
            self.batches.append(list(lines))
            self.taken += lines
        return reply

    def close(self) -> None:
        return

    def readings(self) -> list[int]:
        """Times of the readings taken, in the order in which they were."""
        return [time_of(line) for line in self.taken if line.startswith("bath_reading")]


def time_of(line: str) -> int:
    return int(line.rsplit(" ", 1)[1])


def fill(writer: StoreWriter, run: int, first: int, count: int) -> None:
    """Readings with an estimate every fifth and a gap every seventeenth."""
    entries: list[Entry] = []
    for seq in range(first, first + count):
        if seq % 17 == 16:
            entries.append((run, a_gap(seq)))
            continue
        entries.append((run, a_sample(seq, amps=5 + seq % 97 / 64, volts=9 + seq % 31 / 8)))
        if seq % 5 == 0:
            entries.append((run, an_estimate(seq, seq / 1000)))
    for at in range(0, len(entries), BATCH):
        writer.write(entries[at : at + BATCH])


def store_with(path: Path, readings: int, *, has_ended: bool = True) -> int:
    """A store with one run: readings, gaps, estimates, an alarm and a mark; the run."""
    with a_store(path) as writer:
        run = a_run(writer)
        fill(writer, run, 0, readings)
        writer.write([(run, an_event(3)), (run, Mark(1, 7, BEGAN_UTC_NS + 7, 'say "hi", ok'))])
        if has_ended:
            writer.end_run(run, None, "ended by the operator")
    return run


def points_in(readings: int) -> int:
    """How many points `store_with` makes: readings and gaps, estimates, one alarm, one mark."""
    return readings + sum(seq % 5 == 0 and seq % 17 != 16 for seq in range(readings)) + 2


def a_forwarder(
    path: Path, sink: Sink, clock: HandClock | None = None, plan: ForwardSettings = PLAN
) -> tuple[Forwarder, list[str]]:
    """A forwarder, and what it says."""
    said: list[str] = []
    return Forwarder(path, plan, sink, clock or HandClock(), said.append), said


def steps(forwarder: Forwarder, clock: HandClock, count: int = 100_000) -> int:
    """Step until all is sent, the clock moved by hand; how many steps that took."""
    for done in range(count):
        clock.pass_s(forwarder.step() + 0.001)
        if forwarder.is_all_sent:
            return done + 1
    raise AssertionError(f"not all sent after {count} steps: {forwarder.trouble}")


def state_of(path: Path) -> ForwardState:
    (state,) = forward_states(path)
    return state


@contextmanager
def server_sink(url: str, token: str = TOKEN, gzip: bool = True) -> Iterator[ServerSink]:
    sink = ServerSink(url, "shop", "benches", Secret(token), gzip)
    try:
        yield sink
    finally:
        sink.close()
