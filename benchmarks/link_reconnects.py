"""Hundreds of outages of each kind: is every one got over in time, and does anything leak?

An outage is played at the other end: refused, reset, silent, re-plugged; "cable out" is a network
namespace whose cable (a veth pair) is set down without a word to anybody, which takes root.
A station's own waits between tries are left out: only the driver is measured.
"""

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.link_rate import make_driver
from benchmarks.page import Figure
from drivers.driver import Driver
from drivers.errors import AskAgain, DriverError
from simulators import link_tcp
from simulators.playing import playing

TIMEOUT_S = 0.05
CAP_S = 10.0
POLL_S = 0.2
NAMESPACE = "bathvigil-bench"
HOST, GUEST = "10.213.7.1", "10.213.7.2"

Outage = Callable[[], None]


def reconnects(is_quick: bool) -> Iterable[Figure]:
    """Each kind of outage on each kind of link that can have it."""
    times = 25 if is_quick else 500
    for word in ("scpi-tcp", "modbus-tcp"):
        for how in ("refuse", "reset", "silent"):
            with playing("quiet-strip", word) as play:
                driver = make_driver(play.address, TIMEOUT_S)
                away = partial(play.unplug, how)
                yield _judge(f"{word}, {how}", driver, away, play.plug_in, times)
    for word in ("scpi-serial", "modbus-rtu", "lines-serial"):
        with (
            TemporaryDirectory() as folder,
            playing("quiet-strip", word, link_name=Path(folder) / "port") as play,
        ):
            # By the name that stays: the pseudo-terminal's own number may go to somebody else.
            protocol, _, rest = play.address.partition(":")
            options = rest.partition("?")[1:]
            driver = make_driver(f"{protocol}:{folder}/port{''.join(options)}", TIMEOUT_S)
            yield _judge(f"{word}, re-plugged", driver, play.unplug, play.plug_in, times)
    if os.geteuid() != 0 or sys.platform != "linux":
        yield Figure("reconnects, cable out", "needs root on Linux", "no leak", None)
        return
    for word in ("scpi-tcp", "modbus-tcp"):
        with _cable(word) as (address, out, back):
            driver = make_driver(address, TIMEOUT_S)
            yield _judge(f"{word}, cable out", driver, out, back, times)


def _judge(what: str, driver: Driver, out: Outage, back: Outage, times: int) -> Figure:
    driver.open()
    driver.read()
    slowest_s = 0.0
    before = after = _held()
    for number in range(times):
        out()
        _poll_until(driver, is_good=False)
        back()
        began = time.perf_counter()
        _poll_until(driver, is_good=True)
        slowest_s = max(slowest_s, time.perf_counter() - began)
        after = _held()
        if number == 0:
            before = after
    driver.close()
    return Figure(
        f"reconnects, {what}: {times}",
        f"good again after {slowest_s:.2f} s at worst; file handles {before[0]} to {after[0]}, "
        f"threads {before[1]} to {after[1]}",
        f"at most {CAP_S + POLL_S:g} s, flat",
        slowest_s <= CAP_S + POLL_S and after <= before,
    )


def _poll_until(driver: Driver, is_good: bool) -> None:
    """Poll as a station does, without its waits, until a poll is good, or the link is lost."""
    is_open, last = True, ""
    deadline = time.perf_counter() + 3 * CAP_S
    while time.perf_counter() < deadline:
        try:
            if not is_open:
                driver.open()
                is_open = True
            driver.read()
        except AskAgain as error:
            last = str(error)
        except DriverError as error:
            last = f"{type(error).__name__}: {error}"
            driver.close()
            is_open = False
            if not is_good:
                return
            time.sleep(0.005)
        else:
            if is_good:
                return
            time.sleep(0.001)
    raise AssertionError(f"it never became {'good again' if is_good else 'bad'}: {last}")


def _held() -> tuple[int, int]:
    return len(list(Path("/proc/self/fd").iterdir())), threading.active_count()


@contextmanager
def _cable(word: str) -> Iterator[tuple[str, Outage, Outage]]:
    """A simulator behind a cable that can be pulled: its address, and what pulls and mends."""
    _ip("netns", "add", NAMESPACE)
    try:
        _ip("link", "add", "bv-host", "type", "veth", "peer", "name", "bv-guest")
        _ip("link", "set", "bv-guest", "netns", NAMESPACE)
        _ip("addr", "add", f"{HOST}/30", "dev", "bv-host")
        _ip("link", "set", "bv-host", "up")
        inside = ("netns", "exec", NAMESPACE, "ip")
        for words in (
            ("addr", "add", f"{GUEST}/30", "dev", "bv-guest"),
            ("link", "set", "bv-guest", "up"),
            ("link", "set", "lo", "up"),
        ):
            _ip(*inside, *words)
        relay = [sys.executable, "-m", "benchmarks.link_reconnects", word]
        with subprocess.Popen(
            ["ip", "netns", "exec", NAMESPACE, *relay],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        ) as process:
            assert process.stdout is not None
            address = process.stdout.readline().strip()
            try:
                # Within the namespace: this side of the cable sees no carrier change of its own.
                yield (
                    address,
                    lambda: _ip(*inside, "link", "set", "bv-guest", "down"),
                    lambda: _ip(*inside, "link", "set", "bv-guest", "up"),
                )
            finally:
                process.communicate()
    finally:
        # The namespace goes only when its last process has; the cable is in the way until then.
        subprocess.run(["ip", "link", "del", "bv-host"], check=False, stderr=subprocess.DEVNULL)
        _ip("netns", "del", NAMESPACE)


def _ip(*words: str) -> None:
    subprocess.run(["ip", *words], check=True)


def serve(word: str) -> None:
    """Simulate a supply on this namespace's end of the cable until the input ends."""
    link_tcp.LOOPBACK = GUEST
    with playing("quiet-strip", word) as play:
        print(play.address, flush=True)
        sys.stdin.read()


if __name__ == "__main__":
    serve(sys.argv[1])
