"""What the screens stand: what freezes, random keys, closing again and again, a month that opens.

Real recorders, simulated supplies and screens on pseudo-terminals, except the month.
"""

import asyncio
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from benchmarks.page import Figure
from benchmarks.screen_terminal import drain, on_terminal, wait_for
from drivers.base.clock import SystemClock, boot_id
from monitor.base.errors import StoreError
from monitor.model.request import RequestKind
from monitor.store.reader import open_store
from tests.tui.fuzz import Fuzz
from tests.whole.processes import simulator, start, wait_until
from tui.desk import Desk
from tui.glyphs import BRAILLE
from tui.look import StoreSource
from tui.review import ReviewScreen

POLL_S = 0.2
TOO_OLD_S = 2 * POLL_S + 1.0
FREEZES = 5
KEYS = 10_000
BURST = 20
TAKEN_S = 0.15
"""Within so long a screen has taken a burst of keys."""
ALONE_S = 0.15
"""An ESC counts as a key, and not as the begin of a sequence, where nothing follows so soon."""
CYCLES = 200
STALL_S = 0.2
UNKNOWN = b"amps not known"
"""What stands in the live row in the place of a value."""
SEQUENCES = {
    "space": b" ", "enter": b"\r", "escape": b"\x1b", "tab": b"\t", "shift+tab": b"\x1b[Z",
    "backspace": b"\x7f", "delete": b"\x1b[3~", "insert": b"\x1b[2~", "left": b"\x1b[D",
    "right": b"\x1b[C", "up": b"\x1b[A", "down": b"\x1b[B", "home": b"\x1b[H", "end": b"\x1b[F",
    "pageup": b"\x1b[5~", "pagedown": b"\x1b[6~", "shift+left": b"\x1b[1;2D", "ctrl+a": b"\x01",
    "ctrl+z": b"\x1a", "ctrl+l": b"\x0c", "alt+x": b"\x1bx", "ctrl+up": b"\x1b[1;5A",
    "ctrl+pageup": b"\x1b[5;5~", "f1": b"\x1bOP", "f4": b"\x1bOS", "f10": b"\x1b[21~",
    "f12": b"\x1b[24~",
}  # fmt: skip
"""What a terminal of the xterm kind sends for a key (its control sequences, from memory)."""
PASTE = b"\x1b[200~%s\x1b[201~"


def under(what: str, value: float, goal: float, unit: str, against: str = "") -> Figure:
    """A figure that is to be less than its goal."""
    is_met = value < goal
    return Figure(what, f"{value:.3g} {unit}", f"under {goal:g} {unit}", is_met, against)


def faults(month: Path) -> list[Figure]:
    """All of them; `month` is a store with a month of readings."""
    figures = []
    for what, freeze in (
        ("the recorder stopped", _stop_recorder),
        ("the recorder killed", _kill_recorder),
        ("the link frozen", _freeze_link),
    ):
        longest = max(_to_dashes_s(freeze) for _ in range(FREEZES))
        figures.append(
            under(f"{what}: last value off the screen, longest", longest, TOO_OLD_S, "s")
        )
    figures += [_random_keys(), _again_and_again()]
    figures.append(
        under(
            "longest stall of the keys while a month opens and zooms", _stall_s(month), STALL_S, "s"
        )
    )
    return figures


class Bench:
    """A simulated supply, a recorder of it and its store, while the context lasts."""

    def __init__(self, folder: str) -> None:
        self.store = Path(folder) / "bench.db"
        self._supply = simulator("quiet-strip", "scpi-tcp", 1.0)

    def __enter__(self) -> "Bench":
        address, self.supply = self._supply.__enter__()
        self.recorder = start(
            "record", address, "--limit-amps", "10", "--store", self.store, "--poll-s", str(POLL_S)
        )
        wait_until("samples", lambda: self.samples() > 10 or None)
        return self

    def __exit__(self, *_: object) -> None:
        for process in (self.supply, self.recorder):
            with suppress(ProcessLookupError):
                process.send_signal(signal.SIGCONT)
        self.recorder.terminate()
        self.recorder.communicate(timeout=60)
        self._supply.__exit__(None, None, None)

    def samples(self) -> int:
        """Answered polls so far; none while there is no run yet."""
        try:
            with open_store(self.store) as store:
                return store.run(1).summary().samples
        except StoreError:
            return 0

    @property
    def screen(self) -> list[str]:
        """The live screen's command line."""
        return [sys.executable, "-m", "tui", "live", "--store", str(self.store), "--run", "1"]


def _stop_recorder(bench: Bench) -> None:
    bench.recorder.send_signal(signal.SIGSTOP)


def _kill_recorder(bench: Bench) -> None:
    bench.recorder.kill()


def _freeze_link(bench: Bench) -> None:
    bench.supply.send_signal(signal.SIGSTOP)


def _to_dashes_s(freeze: Callable[[Bench], None]) -> float:
    """From the freeze to the paint that has no value in the live row any more."""
    with (
        tempfile.TemporaryDirectory() as folder,
        Bench(folder) as bench,
        on_terminal(bench.screen) as (_, master),
    ):
        wait_for(master, b"of the limit")
        drain(master, 2.0)
        began_s = time.perf_counter()
        freeze(bench)
        wait_for(master, UNKNOWN)
        return time.perf_counter() - began_s


def _random_keys() -> Figure:
    """Ten thousand keys into real screens of a real run; a closed one is opened again."""
    fuzz, sent, opened = Fuzz(2026), 0, 0
    with tempfile.TemporaryDirectory() as folder, Bench(folder) as bench:
        with open_store(bench.store) as store:
            facts = store.run(1).row.facts
        crashes = 0
        while sent < KEYS:
            opened += 1
            with on_terminal(bench.screen) as (process, master):
                wait_for(master, b"of the limit")
                while sent < KEYS and process.poll() is None:
                    for _ in range(BURST):
                        key = fuzz.key()
                        os.write(master, SEQUENCES.get(key, key.encode()))
                        sent += 1
                        if key == "escape":
                            drain(master, ALONE_S)
                    if fuzz.happens(0.05):
                        os.write(master, PASTE % fuzz.paste().encode().replace(b"\x1b", b""))
                    drain(master, TAKEN_S)
                drain(master, 5.0 if process.poll() is None else 0.0)
                crashes += process.poll() not in (None, 0)
        with open_store(bench.store) as store:
            run = store.run(1)
            is_alive = run.row.ended_utc_ns is None and bench.recorder.poll() is None
            is_same = run.row.facts == facts
            ends = sum(request.kind is RequestKind.END_RUN for request in run.requests())
            requests = len(run.requests())
    result = f"run {'goes on' if is_alive and not ends else 'ENDED'}, limits "
    result += f"{'unchanged' if is_same else 'CHANGED'}, {crashes} crashes"
    is_met = is_alive and is_same and not ends and not crashes
    return Figure(
        f"{sent} random keys and pasted text into a real screen",
        result,
        "run not ended, no limit changed, no crash",
        is_met,
        f"{opened} screens opened, {requests} requests that were meant",
    )


def _again_and_again() -> Figure:
    """Screens opened and closed: by a key, by a lost terminal, by SIGKILL; the run has no gap."""
    with tempfile.TemporaryDirectory() as folder, Bench(folder) as bench:
        for count in range(CYCLES):
            with on_terminal(bench.screen) as (process, master):
                wait_for(master, b"of the limit")
                if count % 3 == 0:
                    os.write(master, b"q")
                    while process.poll() is None:
                        drain(master, 0.05)
                elif count % 3 == 1:
                    process.kill()
                # else: hung up with the terminal
        with open_store(bench.store) as store:
            summary = store.run(1).summary()
    return Figure(
        f"screens opened and closed {CYCLES} times beside a recorder",
        f"{summary.missing} polls missed of {summary.samples + summary.missing}",
        "none missed",
        summary.missing == 0,
    )


def _stall_s(month: Path) -> float:
    """The longest that the loop which takes keys stood still while a month opened and zoomed."""
    stalls: list[float] = []

    async def watched() -> None:
        screen = ReviewScreen(StoreSource(month, 1), SystemClock(), boot_id(), BRAILLE)
        async with Desk(screen).run_test(size=(120, 40)) as pilot:
            probe = asyncio.create_task(_probe(stalls))
            for key in (*["plus"] * 8, *["minus"] * 8, "home", *["plus"] * 6):
                await pilot.press(key)
                await asyncio.sleep(0.1)
            probe.cancel()

    asyncio.run(watched())
    return max(stalls)


async def _probe(stalls: list[float]) -> None:
    while True:
        began_s = time.perf_counter()
        await asyncio.sleep(0.01)
        stalls.append(time.perf_counter() - began_s - 0.01)
