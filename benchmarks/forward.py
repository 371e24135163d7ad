"""How fast the forwarder is, and how far one server goes: writes benchmarks/FORWARD.md.

Needs Debian's package victoria-metrics. `make bench-forward`.
"""

import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from benchmarks.forward_beside import BACKLOG_ROWS, polling_beside
from benchmarks.page import Figure, write
from drivers.base.clock import SystemClock
from drivers.reading import Mode
from monitor.base.secret import Secret
from monitor.forward.forwarder import Forwarder
from monitor.forward.sink import ServerSink
from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.settings.bench import ForwardSettings
from monitor.store.forward_state import forward_states
from monitor.store.writer import Entry, StoreWriter
from tests.clock import HandClock
from tests.whole.real_servers import Victoria, missing, victoria

BACKLOG = 500_000
BENCHES = 200
DATA_S = 600
TICK_S = 10
"""Data seconds between looks in the simulation; a real forwarder looks every half second."""
PAGE = Path(__file__).with_name("FORWARD.md")


def main() -> int:
    """Measure, write the page, and fail where a goal is missed."""
    why_not = missing("victoria-metrics")
    if why_not is not None:
        print(why_not, file=sys.stderr)
        return 1
    _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 8192), hard))
    with tempfile.TemporaryDirectory() as folder:
        with victoria(Path(folder) / "one") as server:
            full, rate = backlog(Path(folder), server, "full", 10_000_000)
        with victoria(Path(folder) / "two") as server:
            gentle, gentle_rate = backlog(Path(folder), server, "gentle", 25_000)
        with victoria(Path(folder) / "three") as server:
            many = many_benches(Path(folder), server)
        with victoria(Path(folder) / "four") as server:
            store = Path(folder) / "backlog.db"
            config = bench_toml(Path(folder), store, server.url, 25_000)
            load = polling_beside(Path(folder), config, store)
            behind = sum(state.behind for state in forward_states(store))
    rows = [
        Figure("a backlog to the server, as fast as it goes", f"{rate:,.0f} points/s", ">= 20,000",
         rate >= 20_000),
        Figure("the same at the default back_fill_points_per_s", f"{gentle_rate:,.0f} points/s",
         "<= 25,000", gentle_rate <= 25_500),
        Figure("a live reading at the server while either runs: slowest of "
         f"{len(full) + len(gentle)}", f"{max([*full, *gentle]):.2f} s", "< 2 s",
         max([*full, *gentle]) < 2),
        Figure("64 supplies at 10 Hz beside a back-fill of three days, on one core: late polls",
         f"{load['beside']['late_polls']:.0f}; alone {load['alone']['late_polls']:.0f}",
         "none that were not late alone",
         load["beside"]["late_polls"] <= load["alone"]["late_polls"]),
        Figure("  99 of 100 polls within; the latest", f"{late(load['beside'])}; alone "
         f"{late(load['alone'])}"),
        Figure("  readings that were sent meanwhile", f"{BACKLOG_ROWS - behind:,}", "> 0",
         behind < BACKLOG_ROWS),
        Figure(f"{BENCHES} benches, 1 Hz, {DATA_S // 60} minutes of data: readings at the server",
         f"{many['there']:,} of {BENCHES * DATA_S:,}", "all",
         many["there"] == BENCHES * DATA_S),
        Figure("  writes that the server answered", f"{many['writes_per_s']:,.0f} a second"),
        Figure("  times as fast as the benches make data", f"{DATA_S / many['took_s']:.1f}", "> 1",
         many["took_s"] < DATA_S),
        Figure("  the server's memory at the end", f"{many['server_mb']:.0f} MB"),
        Figure("  its disk, bytes a reading (six values each)", f"{many['bytes']:.1f}"),
    ]  # fmt: skip
    below = "VictoriaMetrics 1.79.5 (Debian) on the same machine."
    return write(PAGE, "Forwarding", "make bench-forward", rows, below)


def late(lateness: dict[str, float]) -> str:
    """How late polls came, in milliseconds."""
    return (
        f"{1e3 * lateness['usual_lateness_s']:.1f} ms, {1e3 * lateness['worst_lateness_s']:.1f} ms"
    )


def backlog(
    folder: Path, server: Victoria, name: str, points_per_s: int
) -> tuple[list[float], float]:
    """Send a long run that has ended while another goes on.

    Returns
    -------
    list of float, float
        Seconds from each live commit until the server shows the reading; points a second.
    """
    path, clock = folder / f"{name}.db", SystemClock()
    facts = RunFacts("bench-1", "scpi:/dev/ttyUSB0", 40.0, bath="north tank")
    with StoreWriter(path, clock=clock) as writer:
        run = writer.begin_run(facts, clock=clock, program="benchmark").run
        began_ns = clock.utc_ns() - BACKLOG * 200_000_000
        count = 0
        for first in range(0, BACKLOG, 2000):
            entries = entries_of(run, began_ns, range(first, first + 2000))
            count += len(entries)
            writer.write(entries)
        writer.end_run(run, None, "ended")
        live = writer.begin_run(replace(facts, supply="bench-2"), clock=clock, program="b").run
        delays: list[float] = []
        stop = threading.Event()
        config = bench_toml(folder, path, server.url, points_per_s)
        line = [sys.executable, "-m", "bathvigil", "forward", "--config", str(config)]
        process = subprocess.Popen(line)
        try:
            watcher = threading.Thread(
                target=live_points, args=(writer, live, server, delays, stop), daemon=True
            )
            wait_until(lambda: sent(path) > 0)
            began, at_first = time.monotonic(), sent(path)
            watcher.start()
            wait_until(lambda: sent(path) >= count)
            rate = (sent(path) - at_first) / (time.monotonic() - began)
            stop.set()
            watcher.join()
        finally:
            process.terminate()
            process.wait()
    points = server.read('bath_reading_amps{supply="bench-1"}')
    assert sum(map(len, points.values())) == BACKLOG
    return delays, rate


def live_points(
    writer: StoreWriter, run: int, server: Victoria, delays: list[float], stop: threading.Event
) -> None:
    """Commit a reading a second, and note how long each takes to be seen at the server."""
    clock, seq = SystemClock(), 0
    while not stop.is_set():
        sample = a_reading(seq, clock.utc_ns())
        writer.write([(run, sample)])
        began = time.monotonic()
        wanted = sample.utc_ns // 1_000_000
        while True:
            points = server.read('bath_reading_amps{supply="bench-2"}')
            if any(wanted in values for values in points.values()):
                break
            time.sleep(0.05)
        delays.append(time.monotonic() - began)
        seq += 1
        stop.wait(max(1.0 - delays[-1], 0.0))


def many_benches(folder: Path, server: Victoria) -> dict[str, float]:
    """Each bench with its own store and forwarder, in the threads of this process."""
    clock = HandClock()
    clock.utc_now_ns = time.time_ns() - DATA_S * 10**9
    began_ns = clock.utc_now_ns
    benches = [_Bench(folder, number, clock, server.url) for number in range(BENCHES)]
    began = time.monotonic()
    with ThreadPoolExecutor(8) as pool:
        for second in range(0, DATA_S, TICK_S):
            clock.pass_s(TICK_S)
            seqs = range(second, second + TICK_S)
            list(pool.map(lambda bench, seqs=seqs: bench.tick(began_ns, seqs), benches))
        list(pool.map(lambda bench: bench.finish(), benches))
    took_s = time.monotonic() - began
    points = server.read("bath_reading_amps")
    assert server.process is not None
    status = Path(f"/proc/{server.process.pid}/status").read_text()
    server_kb = int(status.partition("VmRSS:")[2].split()[0])
    there = sum(map(len, points.values()))
    assert len(points) == BENCHES
    disk = sum(file.stat().st_size for file in server.folder.rglob("*") if file.is_file())
    return {
        "there": there,
        "took_s": took_s,
        "writes_per_s": sum(bench.writes for bench in benches) / took_s,
        "server_mb": server_kb / 1024,
        "bytes": disk / there,
    }


class _Bench:
    """One bench: its store, its run, its forwarder."""

    def __init__(self, folder: Path, number: int, clock: HandClock, url: str) -> None:
        self.path = folder / f"bench-{number}.db"
        facts = RunFacts("bench-1", "scpi:/dev/ttyUSB0", 40.0, bath="north tank", poll_s=1.0)
        self.writer = StoreWriter(self.path, clock=clock)
        self.run = self.writer.begin_run(facts, clock=clock, program="benchmark").run
        plan = ForwardSettings(
            url=url,
            org="shop",
            bucket="benches",
            site=f"site-{number % 4}",
            bench=f"bench-{number}",
        )
        self.sink = ServerSink(url, "shop", "benches", Secret(""))
        self.forwarder = Forwarder(self.path, plan, self.sink, clock, print)
        self.writes = 0

    def tick(self, began_ns: int, seqs: range) -> None:
        self.writer.write(
            [(self.run, a_reading(seq, began_ns + seq * 10**9, 10**9)) for seq in seqs]
        )
        self.forwarder.look_again()
        while not self.forwarder.is_all_sent:
            self.forwarder.step()
            self.writes += not self.forwarder.is_all_sent

    def finish(self) -> None:
        self.forwarder.close()
        self.writer.close()
        self.sink.close()


def entries_of(run: int, began_ns: int, seqs: range) -> list[Entry]:
    """Readings at 5 Hz with an estimate every second."""
    entries: list[Entry] = []
    for seq in seqs:
        entries.append((run, a_reading(seq, began_ns + seq * 200_000_000)))
        if seq % 5 == 0:
            forecast = Forecast(118.0, 80.0, 190.0, 0.63, None)
            charge = Charge(seq / 9e5, seq / 9e5, seq / 9e5, 1.0)
            entries.append((run, Estimate(seq, seq * 200_000_000, forecast, charge, 0.8)))
    return entries


def a_reading(seq: int, utc_ns: int, poll_ns: int = 200_000_000) -> Sample:
    volts, amps = 9 + seq % 31 / 100, 5 + seq % 997 / 100
    return Sample(seq, seq * poll_ns, utc_ns, 1500, volts, amps, 24.5, mode=Mode.CONSTANT_VOLTAGE)


def bench_toml(folder: Path, store: Path, url: str, points_per_s: int) -> Path:
    path = folder / f"{store.stem}.toml"
    path.write_text(
        f"""
        [supplies.bench-1]
        address = "scpi:/dev/null"
        limit_amps = 40.0
        [store]
        file = "{store}"
        [forward]
        url = "{url}"
        bucket = "benches"
        bench = "bench-a"
        back_fill_points_per_s = {points_per_s}
        """
    )
    return path


def sent(path: Path) -> int:
    return sum(state.sent for state in forward_states(path))


def wait_until(look: Callable[[], bool]) -> None:
    give_up = time.monotonic() + 300
    while not look():
        if time.monotonic() > give_up:
            raise AssertionError("nothing came of it within 300 s")
        time.sleep(0.05)


if __name__ == "__main__":
    sys.exit(main())
