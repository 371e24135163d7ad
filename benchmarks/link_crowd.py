"""64 supplies at 10 Hz on mixed links, whole chain: CPU of the recorder, lateness of polls.

The supplies are simulated in a process of their own (`python -m benchmarks.link_crowd COUNT` tells
their addresses, and ends when its input does). The recorder's process is this one: polling,
estimating, alarms and the store, all of it.
"""

import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.page import Figure
from monitor.model.run import RunFacts, RunRow
from monitor.model.sample import Gap, Sample
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.recorder import Recorder
from monitor.watch.vigil import Verdict
from simulators.playing import playing

COUNT = 64
POLL_S = 0.1
WORDS = ("scpi-serial", "scpi-tcp", "modbus-rtu", "modbus-tcp", "lines-serial")
WARM_UP_S = 5.0
MOST_OF_A_CORE = 0.30
LATE_S = 0.005
LEAST_IN_TIME = 0.99


class Lateness:
    """Takes rows in the polling threads; how late each poll was, once the warm-up is over."""

    def __init__(self) -> None:
        self.late_s: list[float] = []
        self.gaps = 0
        self.is_counting = False

    def take(self, row: RunRow, sample: Sample | Gap, verdict: Verdict) -> None:
        """A `Recorder`'s listener."""
        if not self.is_counting:
            return
        if isinstance(sample, Gap):
            self.gaps += 1
            return
        asked_s = (sample.t_ns - 500 * sample.latency_us) / 1e9
        self.late_s.append(asked_s - sample.seq * POLL_S)

    def share(self, seconds: float) -> float:
        """The share of polls that were no later than this; a missed one was."""
        in_time = sum(late <= seconds for late in self.late_s)
        return in_time / max(len(self.late_s) + self.gaps, 1)


def crowd(is_quick: bool) -> Iterable[Figure]:
    """Record them all at once."""
    seconds = 10.0 if is_quick else 60.0
    lateness = Lateness()
    with TemporaryDirectory() as folder, _supplies() as addresses:
        plans = [
            SupplyPlan(RunFacts(f"supply {number}", address, limit_amps=12.0, poll_s=POLL_S))
            for number, address in enumerate(addresses, start=1)
        ]
        recorder = Recorder(
            Path(folder) / "crowd.db",
            plans,
            lateness.take,
            lambda words: print(words, file=sys.stderr),
        )
        thread = threading.Thread(target=recorder.run)
        thread.start()
        time.sleep(WARM_UP_S)
        lateness.is_counting = True
        wall, cpu = time.perf_counter(), time.process_time()
        time.sleep(seconds)
        cpu_share = (time.process_time() - cpu) / (time.perf_counter() - wall)
        lateness.is_counting = False
        recorder.stop()
        thread.join()
    polls = len(lateness.late_s) + lateness.gaps
    ordered = sorted(lateness.late_s)
    worst_s = ordered[-1] if ordered else 0.0
    yield Figure(
        f"{COUNT} supplies at 10 Hz, mixed links, whole chain: CPU of the recorder",
        f"{cpu_share:.1%} of one core ({polls} polls, {lateness.gaps} gaps)",
        f"less than {MOST_OF_A_CORE:.0%}",
        cpu_share < MOST_OF_A_CORE,
    )
    share = lateness.share(LATE_S)
    yield Figure(
        f"{COUNT} supplies at 10 Hz: polls within {1000 * LATE_S:g} ms of their time",
        f"{share:.2%} (half within {1e3 * ordered[len(ordered) // 2]:.2f} ms, the worst "
        f"{1e3 * worst_s:.1f} ms)",
        f"at least {LEAST_IN_TIME:.0%}",
        share >= LEAST_IN_TIME,
    )


@contextmanager
def _supplies() -> Iterator[list[str]]:
    """The addresses of as many supplies, simulated in another process while the block lasts."""
    command = [sys.executable, "-m", "benchmarks.link_crowd", str(COUNT)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        try:
            yield [process.stdout.readline().strip() for _ in range(COUNT)]
        finally:
            process.communicate()


def serve(count: int) -> None:
    """Simulate so many supplies until the input ends."""
    with ExitStack() as held:
        for number in range(1, count + 1):
            word = WORDS[number % len(WORDS)]
            play = held.enter_context(playing("quiet-strip", word, number=number, seed=number))
            print(play.address, flush=True)
        sys.stdin.read()


if __name__ == "__main__":
    serve(int(sys.argv[1]))
