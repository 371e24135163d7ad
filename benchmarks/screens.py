"""What the screens cost: start, processor, memory, alarms, and a month of readings.

    python -m benchmarks.screens            prints the table and writes benchmarks/SCREENS.md

The first are of a real process on a pseudo-terminal, beside a recorder's writer that stores five
readings a second; a month's are of the look and the drawing themselves; the last of real recorders
and simulated supplies. Linux only: /proc tells time and memory.
"""

import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from statistics import median

from benchmarks.page import Figure, write
from benchmarks.screen_faults import faults, under
from benchmarks.screen_small_board import cpu_s, small_board
from benchmarks.screen_terminal import SIZE, drain, on_terminal, wait_for
from drivers.base.clock import SystemClock
from drivers.reading import Mode
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.store.writer import StoreWriter
from tui.glyphs import BRAILLE
from tui.look import StoreSource
from tui.moment import Moment
from tui.page import draw_review
from tui.view import Window

POLL_S = 0.2
WATCH_S = 20.0
STARTS = 5
ALARMS = 12
MONTH_S = 30 * 86_400
FACTS = RunFacts("bench-1", "scpi:tcp://127.0.0.1:5025", 10.0, bath="north tank", poll_s=POLL_S)

BELOW = f"Terminal of {SIZE[0]} x {SIZE[1]}; one supply at 5 Hz, drawn twice a second."

BARE = """
from textual.app import App
from textual.widgets import Digits
import random
class Bare(App):
    def compose(self):
        for _ in range(3):
            yield Digits("0.00")
    def on_mount(self):
        self.set_interval(0.5, self.change)
    def change(self):
        for digits in self.query(Digits):
            digits.update(f"{random.uniform(1, 9):.2f}")
Bare().run(mouse=False)
"""


def main() -> int:
    """Measure and write the page; 1 where a goal is missed."""
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "live.db"
        figures: list[Figure] = []
        with _recording(store) as raise_alarm:
            starts = [_start_s(store) for _ in range(STARTS)]
            figures.append(under("start to first painted value", median(starts), 1.0, "s"))
            ours = _cost(_screen(store), WATCH_S)
            bare = _cost([sys.executable, "-c", BARE], WATCH_S)
            of_bare = f"{bare[0]:.2g} % of Textual's own bare screen of three big numbers"
            figures.append(under("processor, live screen, chart on", ours[0], 3.0, "%", of_bare))
            of_bare = f"{bare[1]:.3g} MB of that screen"
            figures.append(under("memory, live screen", ours[1], 60.0, "MB", of_bare))
            delays = _alarm_delays_s(store, raise_alarm)
            figures.append(under("alarm stored to painted, median", median(delays), 0.3, "s"))
            figures.append(under("alarm stored to painted, longest", max(delays), 0.3, "s"))
        month = Path(folder) / "month.db"
        first, zooms = _month(month)
        figures.append(under("30 days at 1 Hz: opened, first chart", first, 0.3, "s"))
        figures.append(under("30 days at 1 Hz: a zoom step, median", median(zooms), 0.1, "s"))
        figures.append(under("30 days at 1 Hz: a zoom step, longest", max(zooms), 0.1, "s"))
        figures += faults(month)
        figures += small_board()
    page = Path(__file__).with_name("SCREENS.md")
    return write(page, "What the screens cost and stand", "make bench-screens", figures, BELOW)


def _sample(seq: int, t_ns: int, utc_ns: int, amps: float) -> Sample:
    return Sample(seq, t_ns, utc_ns, 900, 6.8, amps, mode=Mode.CONSTANT_VOLTAGE)


@contextmanager
def _recording(store: Path) -> Iterator[Callable[[bool], None]]:
    """Five readings a second into a new run; raises and returns an alarm when called."""
    clock, over, lock = SystemClock(), threading.Event(), threading.Lock()
    began = threading.Event()
    wanted: list[tuple[bool, threading.Event]] = []

    def record() -> None:
        with StoreWriter(store) as writer:
            run = writer.begin_run(FACTS, clock=clock, program="benchmark").run
            first_ns, seq, occurrence = clock.monotonic_ns(), 0, 0
            while not over.is_set():
                t_ns = clock.monotonic_ns() - first_ns
                entries: list[Sample | Estimate | AlarmEvent] = [
                    _sample(seq, t_ns, clock.utc_ns(), 7.0 + seq % 10 / 100)
                ]
                if seq % 5 == 0:
                    charge = Charge(t_ns / 5e11, t_ns / 5e11, t_ns / 5e11, 1.0)
                    entries.append(Estimate(seq, t_ns, Forecast(why=NoForecast.NO_RISE), charge))
                with lock:
                    asked = list(wanted)
                    wanted.clear()
                for is_raise, _ in asked:
                    occurrence += is_raise
                    entries.append(_alarm(is_raise, occurrence, seq, t_ns))
                writer.write([(run, entry) for entry in entries])
                for _, stored in asked:
                    stored.set()
                began.set()
                seq += 1
                over.wait(POLL_S)
            writer.end_run(run, None, "measured")

    def raise_alarm(is_raise: bool) -> None:
        stored = threading.Event()
        with lock:
            wanted.append((is_raise, stored))
        stored.wait()

    thread = threading.Thread(target=record)
    thread.start()
    began.wait()
    try:
        yield raise_alarm
    finally:
        over.set()
        thread.join()


def _alarm(is_raise: bool, occurrence: int, seq: int, t_ns: int) -> AlarmEvent:
    event = AlarmEvent(
        "tripped", occurrence, Change.RAISED, State.UNACKNOWLEDGED, Priority.CRITICAL, seq, t_ns,
        "the supply cut out",
    )  # fmt: skip
    return event if is_raise else replace(event, change=Change.RETURNED, state=State.NORMAL)


def _screen(store: Path) -> list[str]:
    return [sys.executable, "-m", "tui", "live", "--store", str(store), "--run", "1"]


def _start_s(store: Path) -> float:
    began = time.perf_counter()
    with on_terminal(_screen(store)) as (_, master):
        wait_for(master, b"of the limit")
        return time.perf_counter() - began


def _cost(line: list[str], seconds: float) -> tuple[float, float]:
    """Per cent of one processor over so long after the start, and megabytes at its end."""
    with on_terminal(line) as (process, master):
        drain(master, 3.0)
        before = cpu_s(process.pid)
        drain(master, seconds)
        share = (cpu_s(process.pid) - before) / seconds
        status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
        kilobytes = next(row.split()[1] for row in status.splitlines() if row.startswith("VmRSS"))
        return 100.0 * share, int(kilobytes) / 1024.0


def _alarm_delays_s(store: Path, raise_alarm: Callable[[bool], None]) -> list[float]:
    delays = []
    with on_terminal(_screen(store)) as (_, master):
        wait_for(master, b"of the limit")
        for number in range(ALARMS):
            drain(master, 1.0 + 0.07 * number)
            raise_alarm(True)
            began = time.perf_counter()
            wait_for(master, b"CUT OUT")
            delays.append(time.perf_counter() - began)
            raise_alarm(False)
    return delays


def _month(store: Path) -> tuple[float, list[float]]:
    """Seconds to the first chart of a month of readings, and of zoom steps into it."""
    facts = replace(FACTS, poll_s=1.0)
    with StoreWriter(store) as writer:
        run = writer.begin_run(facts, clock=SystemClock(), program="benchmark").run
        for first in range(0, MONTH_S, 10_000):
            writer.write(
                [
                    (run, _sample(seq, seq * 10**9, seq * 10**9, 7.0 + seq % 977 / 500))
                    for seq in range(first, min(first + 10_000, MONTH_S))
                ]
            )
        writer.end_run(run, MONTH_S * 10**9, "measured")
    count = (SIZE[0] - 7) * BRAILLE.across
    source = StoreSource(store, run)
    first_s = _looked_s(source, Window(0.0, float(MONTH_S), count))
    span_s, zooms = float(MONTH_S), []
    while span_s > 60.0:
        span_s /= 2.0
        from_s = (MONTH_S - span_s) * 0.37
        zooms.append(_looked_s(source, Window(from_s, from_s + span_s, count)))
    source.close()
    return first_s, zooms


def _looked_s(source: StoreSource, window: Window) -> float:
    began = time.perf_counter()
    view = source.look(window)
    moment = Moment(view, float(MONTH_S), "", BRAILLE, cursor_s=window.to_s)
    draw_review(moment, *SIZE)
    return time.perf_counter() - began


if __name__ == "__main__":
    sys.exit(main())
