"""Thousands of polls of tagged values over a bad link: which value came back to which question?

Every value that the simulated end sends says whose it is: its quantity, its unit, and the number
of the question that it answers. A poll is good when what it returns was made for a question of
this very poll; it may fail, with a reason that fits what was done to the line; anything else is a
value that belongs to another question.
"""

import re
import tempfile
import threading
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import Driver, DriverSetUp
from drivers.errors import AskAgain, DriverError
from drivers.reading import Reading
from drivers.registry import open_driver
from simulators.exchange import Exchange
from simulators.fault import Fault, Kind
from simulators.faults import Faults
from simulators.playing import Playing, playing
from simulators.tags import Tag, read_tag

TIMEOUT_S = 0.03
QUIET_MS = 3
FAULT_SHARE = 0.25
OUTAGE_S = 0.05

# With no check sum, a digit that has become another digit can be seen by nobody.
TEXT_KINDS: tuple[Kind, ...] = (
    "late", "early", "partial", "merged", "noise", "echo", "exception", "mute", "drip", "identity",
)  # fmt: skip
FRAME_KINDS: tuple[Kind, ...] = (*TEXT_KINDS, "garbled")
CODES = (1, 2, 3, 4, 0x0A, 0x0B)
"""Exceptions that are not followed by a rest of a second, as 05 and 06 are."""
POLL_GAP_S = 0.008
"""Between two polls: an answer that is said twice says it the second time after 2 ms."""
RECENT = 30
"""Questions within which there must be a fault that fits."""
STALL_S = TIMEOUT_S / 3
LOOK_S = 0.002

REGISTERS = """
format = 1
kind = "modbus"
title = "simulated supply"
source = "simulators/registers/supply-uint16.toml"
[volts]
function = 3
address = 0
type = "uint16"
scale = 0.01
source = "as above"
[amps]
function = 3
address = 1
type = "uint16"
scale = 0.01
source = "as above"
[status]
function = 3
address = 2
output_off_values = [0]
constant_voltage_values = [1]
constant_current_values = [2]
cut_out_values = [4]
source = "as above"
[identity]
function = 3
address = 16
registers = 2
source = "as above"
"""

FITTING: dict[str, frozenset[str]] = {
    "late": frozenset({"no answer"}),
    "early": frozenset({"no answer", "unreadable answer", "link lost"}),
    "partial": frozenset({"no answer", "unreadable answer"}),
    "merged": frozenset({"no answer", "unreadable answer"}),
    "noise": frozenset({"unreadable answer", "no answer", "link lost"}),
    "garbled": frozenset({"unreadable answer", "no answer", "link lost"}),
    "echo": frozenset({"unreadable answer", "no answer", "link lost"}),
    "exception": frozenset({"supply reports an error", "no answer", "unreadable answer"}),
    "mute": frozenset({"no answer"}),
    "drip": frozenset({"no answer", "unreadable answer", "link lost"}),
    "identity": frozenset({"no answer", "unreadable answer", "link lost", "wrong supply"}),
    "reboot": frozenset({"no answer", "unreadable answer", "link lost", "port missing"}),
    "unplug": frozenset({"no answer", "unreadable answer", "link lost", "port missing"}),
}
"""The reasons that fit what was done, within the same poll and those until the next good one."""

FITTING_ON_MODBUS_TCP: dict[str, frozenset[str]] = {"partial": frozenset({"link lost"})}
"""A frame that is cut short shifts all that follows it in the stream: the connection is dropped."""


@dataclass(frozen=True, slots=True)
class LinkKind:
    """One kind of link: the simulator's word for it, and how its values are tagged."""

    name: str
    word: str
    steps: tuple[float, float]
    units: tuple[int, ...] = (1,)
    timeout_s: float = TIMEOUT_S

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The faults that can be noticed on it: on TCP it is TCP that has the check sum."""
        return FRAME_KINDS if self.word == "modbus-rtu" else TEXT_KINDS


LINK_KINDS = (
    LinkKind("SCPI, serial", "scpi-serial", (0.001, 0.001)),
    LinkKind("SCPI, TCP", "scpi-tcp", (0.001, 0.001)),
    LinkKind("Modbus RTU", "modbus-rtu", (0.01, 0.01)),
    LinkKind("Modbus RTU, two units", "modbus-rtu", (0.01, 0.01), (1, 2)),
    LinkKind("Modbus TCP", "modbus-tcp", (0.01, 0.01)),
    LinkKind("plain lines, serial", "lines-serial", (0.01, 0.001)),
)


@dataclass
class Outcome:
    """What came of a trial.

    Parameters
    ----------
    polls, good
        How many there were, and how many brought values of their own.
    reasons
        Why the others brought none.
    foreign
        Values that belong to another question, in words.
    unfit
        Reasons that do not fit what was done to the line.
    unaccounted
        Reasons that nothing fits that was done since the last good poll.
    stalled
        Failed polls that are not judged: this machine itself stood still since the last good one.
    commands
        What was sent that does not only ask.
    """

    polls: int = 0
    good: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    foreign: list[str] = field(default_factory=list)
    unfit: list[str] = field(default_factory=list)
    unaccounted: list[str] = field(default_factory=list)
    stalled: int = 0
    commands: list[str] = field(default_factory=list)


def mixed_faults(kind: LinkKind, share: float, outages: bool, seed: int) -> Faults:
    """Each kind of fault, late answers drawn around the time-out most often."""
    each = share / (len(kind.kinds) + 3)
    faults = []
    for name in kind.kinds:
        match name:
            case "late":
                spread_s = 0.9 * kind.timeout_s
                late = Fault(name, rate=4 * each, seconds=kind.timeout_s, spread_s=spread_s)
                faults.append(late)
            case "drip":
                faults.append(Fault(name, rate=each, seconds=kind.timeout_s / 4))
            case "exception" if kind.word.startswith("modbus"):
                share_of_code = each / len(CODES)
                faults += [Fault(name, rate=share_of_code, code=code) for code in CODES]
            case "echo":
                faults.append(Fault(name, rate=each, seconds=kind.timeout_s / 3))
            case _:
                faults.append(Fault(name, rate=each))
    if outages:
        faults += [
            Fault("reboot", rate=0.001, seconds=OUTAGE_S),
            Fault("unplug", rate=0.001, seconds=OUTAGE_S),
        ]
    return Faults(faults, seed)


@contextmanager
def drivers_on(
    kind: LinkKind, faults: Faults | None = None
) -> Iterator[tuple[Playing, list[Driver]]]:
    """The simulated end, and a closed driver for each of its units."""
    with ExitStack() as held:
        folder = Path(held.enter_context(tempfile.TemporaryDirectory()))
        description = folder / "supply.toml"
        description.write_text(REGISTERS, encoding="utf-8")
        play = held.enter_context(
            playing(
                "quiet-strip",
                kind.word,
                tagged=True,
                units=kind.units,
                faults=faults or (),
                link_name=folder / "port" if not kind.word.endswith("tcp") else None,
            )
        )
        drivers = []
        for own in play.addresses:
            # By the name that stays: a pseudo-terminal's own number may go to somebody else.
            address = re.sub(r"/dev/pts/[0-9]+", str(folder / "port"), own)
            join = "&" if "?" in address else "?"
            options = f"{join}quiet_ms={QUIET_MS}"
            if kind.word.startswith("modbus"):
                options += f"&description={description}"
            drivers.append(_driver(address + options, kind.timeout_s))
        for driver in drivers:
            held.callback(driver.close)
        yield play, drivers


def run_trial(
    kind: LinkKind, polls: int, share: float = FAULT_SHARE, outages: bool = True, seed: int = 1
) -> Outcome:
    """Poll so many times over a bad link, and hold every value against the record of the end."""
    outcome = Outcome()
    with (
        _Stalls() as stalls,
        drivers_on(kind, mixed_faults(kind, share, outages, seed)) as (play, drivers),
    ):
        polled = [_Polled(driver, unit) for driver, unit in zip(drivers, kind.units, strict=True)]
        for number in range(polls):
            _let_it_finish(play)
            _poll(kind, play, polled[number % len(polled)], stalls, outcome)
        outcome.commands = [word for exchange in play.exchanges for word in exchange.commands]
    return outcome


class _Stalls:
    """Notices when this process stands still: on a machine that is busy, any answer may be late."""

    def __init__(self) -> None:
        self.last_ns = 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> "_Stalls":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def _look(self) -> None:
        clock = SystemClock()
        before_ns = clock.monotonic_ns()
        while not clock.wait(LOOK_S, self._stop):
            now_ns = clock.monotonic_ns()
            if now_ns - before_ns > (LOOK_S + STALL_S) * 1e9:
                self.last_ns = now_ns
            before_ns = now_ns


def _let_it_finish(play: Playing) -> None:
    """Wait between two polls, and until an answer that is said twice has been said twice."""
    clock = SystemClock()
    clock.wait(POLL_GAP_S)
    if play.exchanges and play.exchanges[-1].fault == "early":
        while not play.has_said_all:
            clock.wait(LOOK_S)
        clock.wait(POLL_GAP_S)


@dataclass
class _Polled:
    """One driver, and when and where in the record of the end its last good poll was."""

    driver: Driver
    unit: int
    is_open: bool = False
    good_from: int = 0
    good_ns: int = 0


def _poll(
    kind: LinkKind, play: Playing, polled: _Polled, stalls: _Stalls, outcome: Outcome
) -> None:
    outcome.polls += 1
    before = len(play.exchanges)
    try:
        if not polled.is_open:
            polled.driver.open()
            polled.is_open = True
            before = len(play.exchanges)
        reading = polled.driver.read()
    except DriverError as error:
        if not isinstance(error, AskAgain):
            polled.driver.close()
            polled.is_open = False
        outcome.reasons[error.reason] += 1
        if stalls.last_ns > polled.good_ns:
            outcome.stalled += 1
        else:
            _judge_reason(kind, play.exchanges, polled.good_from, error, outcome)
        return
    outcome.good += 1
    polled.good_from = before
    polled.good_ns = SystemClock().monotonic_ns()
    _judge_values(kind, polled.unit, reading, play.exchanges, before, outcome)


def _judge_reason(
    kind: LinkKind,
    exchanges: Sequence[Exchange],
    good_from: int,
    error: DriverError,
    outcome: Outcome,
) -> None:
    """A fault since the last good poll began must account for the failure, or one just before."""
    for since, failures in (
        (good_from, outcome.unaccounted),
        (min(good_from, len(exchanges) - RECENT), outcome.unfit),
    ):
        done = [each.fault for each in exchanges[max(since, 0) :] if each.fault is not None]
        fitting = frozenset[str]().union(*(FITTING.get(fault, frozenset()) for fault in done))
        if kind.word == "modbus-tcp":
            more = (FITTING_ON_MODBUS_TCP.get(fault, frozenset()) for fault in done)
            fitting = fitting.union(*more)
        if error.reason not in fitting:
            failures.append(f"{error.reason} after {done}: {error}")


def _judge_values(
    kind: LinkKind,
    unit: int,
    reading: Reading,
    exchanges: Sequence[Exchange],
    before: int,
    outcome: Outcome,
) -> None:
    own = exchanges[before:]
    tags = {tag for each in own for tag in each.tags}
    pairs = (("volts", reading.volts, kind.steps[0]), ("amps", reading.amps, kind.steps[1]))
    for quantity, value, step in pairs:
        tag = None if value is None else read_tag(value, step)
        if tag is None or not _belongs(tag, quantity, unit, tags):
            asked = [(each.question, each.fault, each.tags) for each in own]
            made = [(each.question, each.fault) for each in exchanges if tag in each.tags]
            outcome.foreign.append(
                f"{quantity} = {value} of unit {unit} is {tag}, made for {made}; asked: {asked}"
            )


def _belongs(tag: Tag, quantity: str, unit: int, own: set[Tag]) -> bool:
    return tag.quantity == quantity and tag.unit == unit % 10 and tag in own


def _driver(address: str, timeout_s: float) -> Driver:
    return open_driver(DriverSetUp(parse_address(address), SystemClock(), timeout_s))
