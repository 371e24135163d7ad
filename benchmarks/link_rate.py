"""The rate of a driver on a line paced at its baud rate, against what frames and gaps allow; and
the CPU of a poll beside a bare pyserial loop that sends and reads the same bytes."""

import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import serial

from benchmarks.page import Figure
from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import Driver, DriverSetUp
from drivers.link.shared_link import frame_gap_s
from drivers.registry import open_driver

LEAST_SHARE = 0.95
MOST_CPU = 2.0
ROUNDS = 40
"""Of the paced lines, driver and bare loop in turn."""


@dataclass(frozen=True, slots=True)
class Line:
    """One kind of paced line, and what one poll puts on it."""

    name: str
    word: str
    baud: int
    bits: int
    asked: bytes

    @property
    def gaps_s(self) -> float:
        """The silences that one poll needs: before the question, and before the answer."""
        return 2 * frame_gap_s(self.baud) if self.word == "modbus-rtu" else 0.0

    def allowed_s(self, answered: int) -> float:
        """The shortest time of a poll with so many bytes in its answer."""
        return (len(self.asked) + answered) * self.bits / self.baud + self.gaps_s


_READ_3 = bytes.fromhex("01 03 00 00 00 03 05 CB")
LINES = (
    Line("Modbus RTU, 9600 8E1", "modbus-rtu", 9600, 11, _READ_3),
    Line("Modbus RTU, 19200 8E1", "modbus-rtu", 19200, 11, _READ_3),
    Line("SCPI, 115200 8N1", "scpi-serial", 115200, 10, b"MEAS:VOLT?;:MEAS:CURR?\n"),
)


@contextmanager
def simulated(*options: str) -> Iterator[str]:
    """The first address that a simulator in a process of its own serves on."""
    command = [sys.executable, "-m", "simulators", *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            yield process.stdout.readline().strip()
        finally:
            process.terminate()


def make_driver(address: str, timeout_s: float = 1.0) -> Driver:
    """A closed driver for an address."""
    return open_driver(DriverSetUp(parse_address(address), SystemClock(), timeout_s))


def rates(is_quick: bool) -> Iterable[Figure]:
    """Rate and CPU of each line."""
    polls = 10 if is_quick else 50
    for line in LINES:
        with TemporaryDirectory() as folder:
            port = Path(folder) / "port"
            options = [
                "--scene",
                "quiet-strip",
                "--link",
                line.word,
                "--baud-paced",
                str(line.baud),
            ]
            with simulated(*options, "--link-name", str(port)) as address:
                join = "&" if "?" in address else "?"
                driver = make_driver(f"{address}{join}baud={line.baud}")
                driver.open()
                answered = 11 if line.word == "modbus-rtu" else _length(port, driver, line)
                ours, bare = _alternate(line, port, driver, polls, answered, ROUNDS)
        share, bare_share = (line.allowed_s(answered) / each.wall_s for each in (ours, bare))
        yield Figure(
            f"rate, {line.name}",
            f"{1 / ours.wall_s:.1f} polls/s, {share:.1%} of what the line allows "
            f"(bare loop {bare_share:.1%})",
            f"at least {LEAST_SHARE:.0%}",
            share >= LEAST_SHARE,
        )
        yield Figure(
            f"CPU per poll, {line.name}",
            f"{1e6 * ours.cpu_s:.0f} us, {ours.cpu_s / bare.cpu_s:.2f} times the bare loop's "
            f"{1e6 * bare.cpu_s:.0f} us",
            f"at most {MOST_CPU:g} times",
            ours.cpu_s <= MOST_CPU * bare.cpu_s,
        )


@dataclass(frozen=True, slots=True)
class Cost:
    """What one poll took."""

    wall_s: float
    cpu_s: float


def _alternate(
    line: Line, port: Path, driver: Driver, polls: int, answered: int, rounds: int
) -> tuple[Cost, Cost]:
    """Both in turn, the best of the rounds each: the machine has other things to do, too."""
    ours: list[Cost] = []
    bare: list[Cost] = []
    for _ in range(rounds):
        driver.open()
        driver.read()
        ours.append(_cost(driver.read, polls))
        driver.close()
        with serial.Serial(str(port), line.baud, timeout=1.0, exclusive=True) as loop:
            bare.append(_cost(lambda loop=loop: _bare(loop, line, answered), polls))  # type: ignore[misc]  # a default binds this round's port
    return _best(ours), _best(bare)


def _best(costs: list[Cost]) -> Cost:
    return Cost(min(cost.wall_s for cost in costs), min(cost.cpu_s for cost in costs))


def _cost(poll: Callable[[], object], polls: int) -> Cost:
    wall, cpu = time.perf_counter(), time.thread_time()
    for _ in range(polls):
        poll()
    return Cost((time.perf_counter() - wall) / polls, (time.thread_time() - cpu) / polls)


def _bare(port: serial.Serial, line: Line, answered: int) -> None:
    """Keep the gap, send the question, read until the answer is there: understand nothing."""
    if line.gaps_s:
        time.sleep(line.gaps_s / 2)
    port.write(line.asked)
    got = 0
    while got < answered:
        data = port.read(port.in_waiting or 1)
        assert data, f"{got} bytes of {answered} came"
        got += len(data)


def _length(port: Path, driver: Driver, line: Line) -> int:
    """How long the answer to one line's question is."""
    driver.close()
    with serial.Serial(str(port), line.baud, timeout=1.0) as port_at_rate:
        port_at_rate.write(line.asked)
        answer = port_at_rate.read_until(b"\n")
    assert re.fullmatch(rb"[^\n]+\n", answer), answer
    return len(answer)
