"""A million samples at full speed with every outside service down: `make bench-memory`, MEMORY.md.

The recorder's own parts without a supply: estimators, alarms, sound, notices, the store; and a
screen that looks on. What is measured is this process's resident memory and its open files.
"""

import math
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from drivers.clock import SystemClock
from monitor.acquiring.scribe import Scribe
from monitor.forwarding.secret import Secret
from monitor.notices.channel import Channel, ChannelKind
from monitor.notices.notifier import NoticePlan, Notifier
from monitor.notices.outbox import Outbox, outbox_path
from monitor.sample import Gap, Sample
from monitor.sounding.players import CommandPlayer
from monitor.sounding.sounder import Sounder
from monitor.store.rows import RunFacts
from monitor.store.writer import StoreWriter
from monitor.vigil import Vigil
from tests.monitor.notices.receivers import receiver
from tests.whole.bath_trial import OnTerminal

REPORT = Path(__file__).with_name("MEMORY.md")
STEP = 100_000
WAITING = 20_000
"""Entries that may wait for the store before the next sample is made."""
POLL_NS = 200_000_000


def megabytes() -> float:
    """Resident memory of this process."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def open_files() -> int:
    """Open files of this process."""
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - the folder of this very process


def rows(count: int) -> Iterator[Sample | Gap]:
    """A bath that warms and is cooled, with a supply that is mute for a while each ten minutes."""
    for seq in range(count):
        t_ns = seq * POLL_NS
        if seq % 3000 > 2960:
            yield Gap(seq, t_ns, t_ns, "no answer", "nothing came within 0.5 s")
            continue
        amps = 6.0 + 2.5 * math.sin(seq / 4000) + 0.02 * math.sin(seq * 1.7)
        yield Sample(seq, t_ns, t_ns, 2000, 9.0, amps)


def main() -> int:
    """Make a million samples, or as many as the command line says."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    real, table = SystemClock(), []
    facts = RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", limit_amps=10.0)
    with (
        tempfile.TemporaryDirectory() as folder,
        receiver() as mute,
        StoreWriter(Path(folder) / "runs.db") as writer,
    ):
        store = Path(folder) / "runs.db"
        row = writer.begin_run(facts, clock=real, program="benchmark")
        scribe = Scribe(writer, real, lambda request: "", lambda why: None)
        sounder = Sounder(CommandPlayer("false"), real, lambda state: None)
        channel = Channel("office", ChannelKind.WEBHOOK, Secret(mute.url))
        notifier = Notifier(
            NoticePlan((channel,), within_s=1.0),
            Outbox(outbox_path(store), ["office"]),
            real,
            lambda finding: None,
            lambda status: scribe.note_apart(row.run, status),
        )
        scribe.start({row.run})
        sounder.start()
        notifier.start()
        screen = OnTerminal(
            [sys.executable, "-m", "tui", "live", "--store", str(store), "--run", str(row.run)]
        )
        vigil, began_s = Vigil(facts), time.monotonic()
        for one in rows(count):
            verdict = vigil.update(one)
            for event in verdict.events:
                sounder.take(row.run, event)
                notifier.take(row, event)
            scribe.note(row.run, one, verdict)
            if one.seq % 1000 == 0:
                while scribe.waiting > WAITING:
                    time.sleep(0.01)
            if (one.seq + 1) % STEP == 0:
                table.append((one.seq + 1, megabytes(), open_files() - len(mute.held)))
                print(table[-1], flush=True)
        seconds = time.monotonic() - began_s
        screen.kill()
        notifier.close()
        sounder.close()
        scribe.close()
    # The first fifth is warm-up: caches of SQLite and of the allocator fill.
    warm = table[len(table) // 5 :]
    slope = (warm[-1][1] - warm[0][1]) / max(len(warm) - 1, 1)
    lines = [f"| {n:,} | {mb:.1f} | {files} |" for n, mb, files in table]
    REPORT.write_text(
        "# Memory over a million samples\n\n"
        f"{count:,} samples in {seconds:.0f} s, a mute notice server, a sound command "
        "that fails, a screen that looks on. Written by `make bench-memory`.\n\n"
        f"Growth after warm-up: {slope:.2f} MB per 100,000 samples (goal: under 1).\n\n"
        "| samples | resident, MB | open files |\n| --- | --- | --- |\n" + "\n".join(lines) + "\n"
    )
    print(REPORT.read_text())
    return int(slope >= 1.0)


if __name__ == "__main__":
    sys.exit(main())
