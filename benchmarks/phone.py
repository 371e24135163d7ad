"""What fifty phones cost the page's server, and the recorder beside it.

python -m benchmarks.phone             prints the table and writes benchmarks/PAGE.md
"""

import http.client
import sys
import tempfile
import threading
import time
from contextlib import ExitStack
from importlib.resources import files
from pathlib import Path
from urllib.parse import urlsplit

from benchmarks.page import Figure, write
from monitor.base.errors import StoreError
from monitor.store.reader import open_store
from tests.servers.ports import free_port
from tests.whole.processes import PATIENCE_S, simulator, start, wait_until
from tests.whole.test_screen_browser import address_of
from tui.phone.server import FILES

PHONES = 50
SECONDS = 30.0
MOST_BYTES = 60_000
MOST_SHARE = 10.0


class Phone(threading.Thread):
    """Reads the news and counts them, as a page does that hides its figures."""

    def __init__(self, host: str, cookie: str) -> None:
        super().__init__(daemon=True)
        self.news = 0
        self.bytes = 0
        self._line = http.client.HTTPConnection(host, timeout=PATIENCE_S)
        self._line.request("GET", "/events", headers={"Cookie": cookie})
        self._answer = self._line.getresponse()

    def run(self) -> None:
        while line := self._answer.readline():
            self.news += line.startswith(b"event: state")
            self.bytes += len(line)


def main() -> int:
    """Measure, print, write."""
    with tempfile.TemporaryDirectory() as folder, ExitStack() as ends:
        store = Path(folder) / "bathvigil.db"
        address, _ = ends.enter_context(simulator("quiet-strip", "scpi-tcp", 1.0))
        recorder = start("record", address, "--limit-amps", "10", "--store", store)
        ends.callback(recorder.communicate, timeout=PATIENCE_S)
        ends.callback(recorder.terminate)
        wait_until("rows", lambda: _rows(store) or None)
        alone = _polls(store, recorder.pid)
        served = start("page", "--store", store, "--port", str(free_port()))
        ends.callback(served.communicate, timeout=PATIENCE_S)
        ends.callback(served.terminate)
        url = urlsplit(address_of(served))
        # `bathvigil page` waits for its one child, which serves.
        children = Path(f"/proc/{served.pid}/task/{served.pid}/children").read_text().split()
        server = int(children[0])
        idle = _share(server)
        phones = [Phone(url.netloc, _cookie(url.netloc, url.path)) for _ in range(PHONES)]
        for phone in phones:
            phone.start()
        wait_until("news for all", lambda: all(phone.news for phone in phones))
        before, began = [phone.news for phone in phones], cpu_s(server)
        sent = sum(phone.bytes for phone in phones)
        beside = _polls(store, recorder.pid)
        share = 100.0 * (cpu_s(server) - began) / SECONDS
        sent = sum(phone.bytes for phone in phones) - sent
        least = min(phone.news - old for phone, old in zip(phones, before, strict=True))
        status = Path(f"/proc/{server}/status").read_text(encoding="ascii")
        kilobytes = next(row.split()[1] for row in status.splitlines() if row.startswith("VmHWM"))
    size = sum(len((files("tui.phone") / name).read_bytes()) for name, _ in FILES.values())
    figures = [
        Figure("the page's files", f"{size / 1000:.1f} kB", "under 60 kB", size < MOST_BYTES),
        Figure(
            f"processor time of the server, {PHONES} phones",
            f"{share:.1f} % of a core",
            "under 10 %",
            share < MOST_SHARE,
            f"{idle:.1f} % without a phone",
        ),
        Figure(
            f"polls without an answer in {SECONDS:g} s beside {PHONES} phones",
            f"{beside[1]} of {beside[0]}",
            "none",
            beside[1] == 0,
            f"{alone[1]} of {alone[0]} without the page",
        ),
        Figure(
            "processor time of the recorder beside them",
            f"{beside[2]:.1f} % of a core",
            against=f"{alone[2]:.1f} % without the page",
        ),
        Figure(f"fewest news that a phone got in {SECONDS:g} s", f"{least}"),
        Figure("sent to each phone", f"{sent / PHONES / SECONDS / 1000:.1f} kB/s"),
        Figure("memory of the server, at most", f"{int(kilobytes) / 1024:.0f} MB"),
    ]
    page = Path(__file__).with_name("PAGE.md")
    return write(page, "What the page for phones costs", "make bench-phone", figures)


def _cookie(host: str, path: str) -> str:
    line = http.client.HTTPConnection(host, timeout=PATIENCE_S)
    line.request("GET", path)
    cookie = str(line.getresponse().getheader("set-cookie")).partition(";")[0]
    line.close()
    return cookie


def cpu_s(pid: int) -> float:
    """Processor time of all threads of a process so far, to the nanosecond: it is little."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return sum(int((task / "schedstat").read_text().split()[0]) for task in tasks) / 1e9


def _share(pid: int) -> float:
    before = cpu_s(pid)
    time.sleep(SECONDS / 3)
    return 100.0 * (cpu_s(pid) - before) / (SECONDS / 3)


def _polls(store: Path, pid: int) -> tuple[int, int, float]:
    """Polls and unanswered ones in so long from now, and the recorder's per cent of a core."""
    first, before = _rows(store), cpu_s(pid)
    time.sleep(SECONDS)
    share = 100.0 * (cpu_s(pid) - before) / SECONDS
    with open_store(store) as recorded:
        run = recorded.run(recorded.runs()[-1].run)
        missed = sum(gap.polls for gap in run.gaps() if gap.began_seq > first)
    return _rows(store) - first, missed, share


def _rows(store: Path) -> int:
    try:
        with open_store(store) as recorded:
            last = recorded.run(recorded.runs()[-1].run).last()
            return 0 if last is None else last.seq
    except (StoreError, IndexError):
        return 0


if __name__ == "__main__":
    sys.exit(main())
