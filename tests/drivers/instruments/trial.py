"""The trial of one instrument: found, commissioned by the prompts, recorded, judged."""

import io
import re
import shlex
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from typing import TextIO, cast

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import DriverSetUp
from drivers.registry import open_driver
from monitor.commands.main import run
from monitor.model.sample import Gap, Quality, Sample
from monitor.recorder.schedule import Schedule
from monitor.recorder.station import Station
from monitor.watch.vigil import Verdict, Vigil
from tests.drivers.instruments.at_panel import Operator
from tests.drivers.instruments.instrument import Bench

PATIENCE_S = 0.3
"""The `--timeout-s` of find and commission; these instruments answer at once."""
SLACK_S = 0.03
"""A value may be this much older than its poll: what the wire takes, and a busy machine."""
STALE_S = 0.5
"""No stamp is further from the moment of measuring than this and two time-outs."""
_NEXT = re.compile(r"(?:next: |`)(bathvigil [^`\n]*)")


@dataclass
class Made:
    """How an instrument was commissioned.

    Parameters
    ----------
    file
        The description; None where none was made.
    by
        The commands that were given, the last one of `commission`.
    is_found
        Whether `find` proposed that last one.
    said
        All that the program said.
    """

    file: Path | None
    address: str
    by: list[str]
    is_found: bool
    said: str


@dataclass
class Recorded:
    """What was recorded of an instrument.

    Parameters
    ----------
    wrong
        Good values that are not those of their time, in words.
    """

    good: int = 0
    suspect: int = 0
    gaps: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    reasons: Counter[str] = field(default_factory=Counter)

    @property
    def words(self) -> str:
        gaps = ", ".join(f"{reason} {count}" for reason, count in self.gaps.most_common())
        return f"{self.good} good, {self.suspect} suspect; {gaps or 'no gap'}"


def commissioned(bench: Bench, folder: Path, finds: bool = True) -> Made:
    """Find the instrument, follow what is proposed, and answer the prompts of `commission`.

    Without `finds` its address is that of its manual.
    """
    to = folder / "mine.toml"
    by: list[str] = []
    said: list[str] = []
    proposed = f"bathvigil find --ask {shlex.quote(bench.place)}"
    for _ in range(3 if finds else 0):
        by.append(proposed)
        words = shlex.split(proposed)[1:]
        if "--timeout-s" not in words:
            words += ["--timeout-s", str(PATIENCE_S)]
        code, out, err = _called(words)
        said += [out, err]
        nexts: list[str] = _NEXT.findall(out if code == 0 else err)
        if not nexts:
            break
        proposed = nexts[0]
        if " commission " in proposed:
            break
    is_found = " commission " in proposed
    if not is_found:
        proposed = f"bathvigil commission {shlex.quote(bench.address)} --to mine.toml"
    words = [word if word != "mine.toml" else str(to) for word in shlex.split(proposed)[1:]]
    words += ["--timeout-s", str(PATIENCE_S), "--replace", *bench.instrument.flags]
    for _ in range(2):  # a busy machine may be late; what cannot be done fails twice
        bench.truth.setting, bench.truth.state = 0, "cv"
        code, out, err = _called(words, bench)
        said += [out, err]
        by.append(shlex.join(words))
        if code == 0:
            break
    bench.truth.state = "cv"
    address = next(
        word for word in words if word.startswith(("lines:", "scpi:", "modbus:", "visa:"))
    )
    return Made(to if code == 0 else None, address, by, is_found, "\n".join(said))


def recorded(
    bench: Bench, made: Made, seconds: float, poll_s: float, timeout_s: float, has_faults: bool
) -> Recorded:
    """Record by a description, and hold each stored value against the truth."""
    clock = SystemClock()
    set_up = DriverSetUp(
        parse_address(made.address), clock, timeout_s, None if made.file is None else str(made.file)
    )
    driver = open_driver(set_up)
    rows: list[Sample | Gap] = []
    began_ns = clock.monotonic_ns()
    bench.truth.moves = True
    station = Station(
        1,
        driver,
        cast(Vigil, _Nobody()),
        Schedule(began_ns, poll_s),
        began_ns,
        clock,
        clock,
        lambda run, row, verdict: rows.append(row),
    )
    # The first opening is not a part of what is judged, as at a bench.
    station.poll()
    bench.mischief.is_on = has_faults
    until_ns = clock.monotonic_ns() + int(seconds * 1e9)
    while clock.monotonic_ns() < until_ns:
        clock.wait(max(station.schedule.next_ns - clock.monotonic_ns(), 0) / 1e9)
        station.poll()
    bench.mischief.is_on = False
    station.close()
    bench.truth.moves = False
    waits_s = max(timeout_s, getattr(getattr(driver, "conversation", None), "timeout_s", 0.0))
    return _judged(bench, rows, began_ns, waits_s)


def _judged(bench: Bench, rows: list[Sample | Gap], began_ns: int, timeout_s: float) -> Recorded:
    found = Recorded()
    instrument = bench.instrument
    every_s = 0.0 if instrument.unasked is None else 2.5 * instrument.unasked[1]
    slack_ns = int((SLACK_S + instrument.holds_s + every_s) * 1e9)
    for row in rows:
        if isinstance(row, Gap):
            found.gaps[row.reason] += 1
            continue
        if row.quality is not Quality.GOOD:
            found.suspect += 1
            found.reasons[row.reason or ""] += 1
            continue
        found.good += 1
        t_ns = began_ns + row.t_ns
        half_ns = min(row.latency_us * 500, int((STALE_S + 2 * timeout_s) * 1e9)) + slack_ns
        for name, value in (("volts", row.volts), ("amps", row.amps)):
            if value is None:
                found.wrong.append(f"row {row.seq}: good without {name}")
            elif not bench.truth.fits(name, value, t_ns - half_ns, t_ns + half_ns):
                found.wrong.append(_words(bench, row, name, value, t_ns))
    return found


def _words(bench: Bench, row: Sample, name: str, value: float, t_ns: int) -> str:
    measured_ns = bench.truth.newest_time(name, value, t_ns)
    other = "amps" if name == "volts" else "volts"
    swapped_ns = bench.truth.newest_time(other, value, t_ns)
    if measured_ns is not None and measured_ns >= (swapped_ns or 0):
        what = f"measured {(t_ns - measured_ns) / 1e9:.2f} s before its stamp"
    elif swapped_ns is not None:
        what = f"that is {other}, {(t_ns - swapped_ns) / 1e9:.2f} s before"
    else:
        what = "never measured"
    return f"row {row.seq}: {name} {value:g}, {what} ({row.latency_us / 1e6:.3f} s under way)"


class _Nobody:
    """Stands where a station wants its vigil: nothing is watched."""

    def update(self, row: Sample | Gap) -> Verdict | None:
        return None


def _called(words: list[str], bench: Bench | None = None) -> tuple[int, str, str]:
    """One command in this process: its exit code, what it gave and what it said."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), _typing(bench, err):
        code = run(words)
    return code, out.getvalue(), err.getvalue()


@contextmanager
def _typing(bench: Bench | None, said: io.StringIO) -> Iterator[None]:
    before = sys.stdin
    sys.stdin = cast(TextIO, io.StringIO() if bench is None else Operator(bench, said))
    try:
        yield
    finally:
        sys.stdin = before
