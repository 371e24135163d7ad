"""64 supplies at 10 Hz through the recorder's own scribe; prints what it cost as JSON.

A process of its own, so that it can also be run with every sync slowed down.
"""

import json
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

from benchmarks.store_rows import begin
from drivers.base.clock import SystemClock
from drivers.reading import Mode
from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.model.sample import Sample
from monitor.recorder.scribe import Scribe
from monitor.store.writer import Entry, StoreWriter
from monitor.watch.vigil import Verdict

SUPPLIES = 64
POLL_S = 0.1


class TimedWriter(StoreWriter):
    """Notes how old the oldest sample of each batch is when the batch is on the disk."""

    began_ns = 0
    oldest_s = 0.0
    commits = 0

    def write(self, entries: Sequence[Entry]) -> None:
        """Write, and look at the clock afterwards."""
        super().write(entries)
        now_ns = time.monotonic_ns() - self.began_ns
        ages = [now_ns - row.t_ns for _, row in entries if isinstance(row, Sample)]
        self.oldest_s = max(self.oldest_s, max(ages, default=0) / 1e9)
        self.commits += 1


def cpu_s(thread: int) -> float:
    """Seconds of processor that a thread of ours has used; see proc(5), /proc/pid/task/tid/stat."""
    fields = Path(f"/proc/self/task/{thread}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / 100


def _complain(trouble: str | None) -> None:
    print(trouble or "recording again", file=sys.stderr)


def main(path: Path, seconds: float) -> None:
    """Record for a while and print the figures."""
    writer = TimedWriter(path)
    runs = [begin(writer, f"bench-{number}", POLL_S) for number in range(SUPPLIES)]
    scribe = Scribe(writer, SystemClock(), lambda _: "", _complain)
    verdicts = Verdict(
        Estimate(0, 0, Forecast(118.0, 80.0, 190.0, 0.5, None), Charge(1.0, 0.9, 1.1, 1.0))
    )
    before = set(threading.enumerate())
    writer.began_ns = began_ns = time.monotonic_ns()
    scribe.start(set(runs))
    (thread,) = set(threading.enumerate()) - before
    assert thread.native_id is not None
    lateness: list[float] = []
    round_number = 0
    while (due_s := round_number * POLL_S) < seconds:
        time.sleep(max(due_s - (time.monotonic_ns() - began_ns) / 1e9, 0))
        lateness_s = (time.monotonic_ns() - began_ns) / 1e9 - due_s
        lateness.append(lateness_s)
        for run in runs:
            now_ns = time.monotonic_ns() - began_ns
            sample = Sample(
                *(round_number, now_ns, time.time_ns(), 900, 9.0, 5.0 + run / 1000, 25.0),
                mode=Mode.CONSTANT_VOLTAGE,
            )
            estimate = Estimate(
                round_number, now_ns, verdicts.estimate.forecast, verdicts.estimate.charge
            )
            scribe.note(run, sample, Verdict(estimate))
        round_number += 1
    used_s = cpu_s(thread.native_id)
    scribe.close()
    print(
        json.dumps(
            {
                "samples": round_number * SUPPLIES,
                "seconds": seconds,
                "core_share": used_s / seconds,
                "commits_per_s": writer.commits / seconds,
                "oldest_at_commit_s": writer.oldest_s,
                "late_polls": sum(late_s > POLL_S for late_s in lateness),
                "usual_lateness_s": sorted(lateness)[round(0.99 * (len(lateness) - 1))],
                "worst_lateness_s": max(lateness),
            }
        )
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]))
