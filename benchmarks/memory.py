"""A million samples at full speed with every outside service down: `make bench-memory`, MEMORY.md.

The recorder's own parts without a supply: estimators, alarms, sound, notices, the store; a screen
that looks on; and a forwarder whose server takes calls and never answers. What is measured is this
process's resident memory and its open files, and the forwarder's memory. Then a whole recorder has
a supply that hangs up on every call.
"""

import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from benchmarks.page import Figure, write
from drivers.base.clock import SystemClock
from monitor.base.secret import Secret
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.notices.channel import Channel, ChannelKind
from monitor.recorder.notices.notifier import NoticePlan, Notifier
from monitor.recorder.notices.outbox import Outbox, outbox_path
from monitor.recorder.scribe import Scribe
from monitor.recorder.sound.players import CommandPlayer
from monitor.recorder.sound.sounder import Sounder
from monitor.store.writer import StoreWriter
from monitor.watch.vigil import Vigil
from tests.monitor.recorder.notices.receivers import receiver
from tests.whole.bath_trial import OnTerminal
from tests.whole.hang_ups import hang_up_again_and_again
from tests.whole.processes import command_line

REPORT = Path(__file__).with_name("MEMORY.md")
STEP = 100_000
WAITING = 20_000
"""Entries that may wait for the store before the next sample is made."""
POLL_NS = 200_000_000


HANG_UPS = 2_000
FORWARD = """
[supplies.bench-1]
address = "scpi:tcp://127.0.0.1:1"
limit_amps = 10.0

[forward]
url = "{url}"
org = "o"
bucket = "b"
bench = "x"
"""


def megabytes(process: str = "self") -> float:
    """Resident memory of a process, this one's unless told otherwise."""
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
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


def forwarder(folder: Path, store: Path, url: str) -> "subprocess.Popen[bytes]":
    """A forwarder of the store, whose server never answers."""
    config, quiet = folder / "bench.toml", subprocess.DEVNULL
    config.write_text(FORWARD.format(url=url))
    line = command_line("forward", "--config", config, "--store", store)
    return subprocess.Popen(line, stdin=quiet, stdout=quiet, stderr=quiet)


def growth(values: Sequence[float]) -> float:
    """Megabytes from one step to the next; the first fifth is warm-up, in which caches fill."""
    warm = values[len(values) // 5 :]
    return (warm[-1] - warm[0]) / max(len(warm) - 1, 1)


def hang_ups() -> list[Figure]:
    """What a recorder holds open over so many calls that its supply hung up on."""
    with tempfile.TemporaryDirectory() as folder:
        counts = hang_up_again_and_again(Path(folder), HANG_UPS, looks=40)
    figures = []
    for what, values in zip(("open files", "threads"), zip(*counts, strict=True), strict=True):
        half = len(values) // 2
        first, last = min(values[2:half]), min(values[half:])
        what_was_done = f"{HANG_UPS} calls hung up: {what} in the first half, and in the second"
        figures.append(Figure(what_was_done, f"{first}, {last}", "no more", last <= first + 1))
    return figures


def main() -> int:
    """Make a million samples, or as many as the command line says."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    real, steps = SystemClock(), list[tuple[int, float, float, int]]()
    facts = RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", limit_amps=10.0)
    with (
        tempfile.TemporaryDirectory() as folder,
        receiver() as mute,
        receiver() as silent,
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
        copying = forwarder(Path(folder), store, silent.url)
        vigil, began_s = Vigil(facts), time.monotonic()
        for reading in rows(count):
            verdict = vigil.update(reading)
            for event in verdict.events:
                sounder.take(row.run, event)
                notifier.take(row, event)
            scribe.note(row.run, reading, verdict)
            if reading.seq % 1000 == 0:
                while scribe.waiting > WAITING:
                    time.sleep(0.01)
            if (reading.seq + 1) % STEP == 0:
                # Connections that the mute servers were left with are theirs, not the recorder's.
                held = len(mute.held) + len(silent.held)
                copy = megabytes(str(copying.pid))
                steps.append((reading.seq + 1, megabytes(), copy, open_files() - held))
                print(steps[-1], flush=True)
        seconds = time.monotonic() - began_s
        copying.kill()
        copying.wait()
        screen.kill()
        notifier.close()
        sounder.close()
        scribe.close()
    slope, copys = growth([own for _, own, _, _ in steps]), growth([mb for _, _, mb, _ in steps])
    figures = [
        Figure("growth of the recorder, 100,000 samples", f"{slope:.2f} MB", "< 1 MB", slope < 1.0),
        Figure("growth of the forwarder", f"{copys:.2f} MB", "< 1 MB", copys < 1.0),
        *hang_ups(),
    ]
    lines = [f"| {n:,} | {mb:.1f} | {copy:.1f} | {files} |" for n, mb, copy, files in steps]
    below = (
        f"{count:,} samples in {seconds:.0f} s: a mute notice server, a mute server of copies, a "
        "sound command that fails, a screen that looks on.\n\n"
        "| samples | resident, MB | forwarder, MB | open files |\n| --- | --- | --- | --- |\n"
        + "\n".join(lines)
    )
    return write(REPORT, "Memory over a million samples", "make bench-memory", figures, below)


if __name__ == "__main__":
    sys.exit(main())
