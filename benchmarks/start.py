"""`make bench-start`: how long commands take to begin, beside a bare interpreter; START.md."""

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from benchmarks.page import Figure, write

ROOT = Path(__file__).parents[1]
REPORT = ROOT / "benchmarks" / "START.md"
ROUNDS = 15
VERSION_S, RECORD_S = 0.15, 0.5
OURS = [sys.executable, "-m", "bathvigil"]


def to_its_end_s(line: Sequence[str]) -> tuple[float, float]:
    """Seconds from the start of a program to its end, and of processor time."""
    began_s = time.perf_counter()
    with subprocess.Popen(line, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        _, _, used = os.wait4(process.pid, 0)
        took_s = time.perf_counter() - began_s
        process.returncode = 0
    return took_s, used.ru_utime + used.ru_stime


def to_first_question_s() -> tuple[float, float]:
    """Seconds from the start of `record` to the first byte that it sends to its supply."""
    with tempfile.TemporaryDirectory() as folder, socket.create_server(("127.0.0.1", 0)) as supply:
        address = f"scpi:tcp://127.0.0.1:{supply.getsockname()[1]}"
        line = [*OURS, "record", address, "--limit-amps", "10", "--keep-trying"]
        line += ["--store", str(Path(folder) / "a.db")]
        began_s = time.perf_counter()
        with subprocess.Popen(
            line, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as process:
            talk, _ = supply.accept()
            talk.recv(1)
            took_s = time.perf_counter() - began_s
            cpu = Path(f"/proc/{process.pid}/stat").read_text(encoding="ascii").rpartition(")")[2]
            used = sum(int(ticks) for ticks in cpu.split()[11:13]) / os.sysconf("SC_CLK_TCK")
            talk.close()
            process.terminate()
    return took_s, used


CASES: dict[str, tuple[Callable[[], tuple[float, float]], float | None]] = {
    "a bare interpreter": (lambda: to_its_end_s([sys.executable, "-c", "pass"]), None),
    "`bathvigil --version`": (lambda: to_its_end_s([*OURS, "--version"]), VERSION_S),
    "`bathvigil record`, to its first question": (to_first_question_s, RECORD_S),
    "`bathvigil --help`": (lambda: to_its_end_s([*OURS, "--help"]), None),
    "`bathvigil record --help`": (lambda: to_its_end_s([*OURS, "record", "--help"]), None),
}


def main() -> int:
    """Measure in turns and write the page; 1 where a goal is not met."""
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in CASES}
    for _ in range(ROUNDS):
        for name, (measure, _) in CASES.items():
            times[name].append(measure())
    bare_s = statistics.median(wall for wall, _ in times["a bare interpreter"])
    figures = []
    for name, (_, goal_s) in CASES.items():
        wall_s = statistics.median(wall for wall, _ in times[name])
        least_s = min(wall for wall, _ in times[name])
        cpu_s = statistics.median(cpu for _, cpu in times[name])
        figures.append(
            Figure(
                name,
                f"{wall_s:.3f} s (at best {least_s:.3f} s; processor {cpu_s:.2f} s)",
                "" if goal_s is None else f"under {goal_s:g} s",
                None if goal_s is None else wall_s < goal_s,
                "" if wall_s == bare_s else f"{wall_s / bare_s:.1f} times a bare interpreter",
            )
        )
    below = f"Medians of {ROUNDS} starts, each kind in turn, with warm file caches."
    return write(REPORT, "Start", "make bench-start", figures, below)


if __name__ == "__main__":
    sys.exit(main())
