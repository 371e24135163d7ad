"""`demo --history`: a store filled with simulated months of an invented workshop.

Every reading passes through the same vigil as at the bench; only the time is a past one.
"""

import json
import subprocess
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from drivers.reading import Mode
from monitor.base.errors import BathvigilError
from monitor.base.program import VERSION, own_command
from monitor.model.card import JobCard, Way
from monitor.model.entry import Entry, Kind
from monitor.model.fittings import Fittings
from monitor.model.leads import Leads
from monitor.model.outcome import Gone, Outcome
from monitor.model.run import EndReason, LimitKind, RunFacts
from monitor.model.sample import Sample
from monitor.recorder.in_force import as_settings, in_force
from monitor.recorder.plan import SupplyPlan
from monitor.store.batch import Entry as Stored
from monitor.store.bath_rows import BathBook
from monitor.store.job_rows import JobBox
from monitor.store.writer import StoreWriter
from monitor.watch.vigil import Vigil

ESTIMATE_NS = 1_000_000_000
FIRST_ORDER = 310
"""The workshop's customers mostly bring two parts."""
LEADS = Leads(10.0, 4.0)
"""As the simulated workshop has them at both supplies."""
MODES = {
    "constant-voltage": Mode.CONSTANT_VOLTAGE,
    "constant-current": Mode.CONSTANT_CURRENT,
    "cut-out": Mode.CUT_OUT,
    "output-off": Mode.OUTPUT_OFF,
}
Row = list[float | str | None]
Line = dict[str, "str | float | bool | None"]


@dataclass
class PastClock:
    """A clock of the past: it moves only when it is told to."""

    wall_ns: int
    mono_ns: int = 1_000_000_000

    def monotonic_ns(self) -> int:
        """Nanoseconds that only go forward."""
        return self.mono_ns

    def utc_ns(self) -> int:
        """Nanoseconds since 1970 UTC."""
        return self.wall_ns

    def wait(self, seconds: float, until: threading.Event | None = None) -> bool:
        """Pass the time at once."""
        self.go_on(round(seconds * 1e9))
        return until is not None and until.is_set()

    def go_on(self, ns: int) -> None:
        """Move both clocks."""
        self.wall_ns += ns
        self.mono_ns += ns


def fill_history(path: Path, ends_utc_ns: int, tell: Callable[[int], None]) -> int:
    """Fill a store with the months; the number of runs.

    Parameters
    ----------
    path
        A store that is not there yet.
    ends_utc_ns
        When the months end.
    tell
        Called with the number of runs after each.

    Raises
    ------
    BathvigilError
        There is a file already, or the simulator failed.
    """
    if path.exists():
        raise BathvigilError(f"{path}: exists already; name another file with --store")
    runs = 0
    with StoreWriter(path, clock=PastClock(ends_utc_ns)) as writer:
        run_line: Line = {}
        for line, rows in _lines():
            at_ns = ends_utc_ns - round(float(line.get("ago_s") or 0.0) * 1e9)
            if line["kind"] == "entry":
                BathBook(path, PastClock(at_ns)).add(_entry(line, at_ns))
            elif line["kind"] == "run":
                run_line = line
            else:
                began_ns = ends_utc_ns - round(float(run_line["ago_s"] or 0.0) * 1e9)
                run = _record(writer, run_line, rows, PastClock(began_ns))
                _write_card(JobBox(path, PastClock(began_ns)), run_line, run)
                runs += 1
                tell(runs)
    return runs


def _lines() -> Iterator[tuple[Line, list[Row]]]:
    """What happened, and the readings of a line of readings."""
    process = subprocess.Popen(
        own_command("simulators.workshop"),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        for text in process.stdout:
            line = json.loads(text)
            yield line, line.pop("rows", [])
    finally:
        process.stdout.close()
        process.terminate()
        code = process.wait(timeout=10)
    if code > 0:
        raise BathvigilError("the simulated workshop stopped in the middle")


def _entry(line: Line, at_ns: int) -> Entry:
    numbers = {
        name: float(value)
        for name in ("litres", "grams_per_litre", "volts", "amps_before", "amps_aimed", "ohms")
        if (value := line.get(name)) is not None
    }
    return Entry(
        bath=str(line["bath"]),
        kind=Kind(str(line["entry"])),
        at_utc_ns=at_ns,
        litres=numbers.get("litres"),
        grams_per_litre=numbers.get("grams_per_litre"),
        solution=str(line.get("solution", "")),
        supply=str(line.get("supply", "")),
        volts=numbers.get("volts"),
        amps_before=numbers.get("amps_before"),
        amps_aimed=numbers.get("amps_aimed"),
        ohms=numbers.get("ohms"),
        text=str(line.get("text", "")),
        by=str(line["by"]),
    )


def _record(writer: StoreWriter, run_line: Line, rows: list[Row], clock: PastClock) -> int:
    facts = RunFacts(
        supply=str(run_line["supply"]),
        address="simulated",
        identity="simulated DC supply",
        limit_amps=float(run_line["limit_amps"] or 0.0),
        limit_kind=LimitKind(str(run_line["at_limit"])),
        bath=str(run_line["bath"]),
        bath_litres=float(run_line["litres"] or 0.0),
        poll_s=float(run_line["poll_s"] or 0.5),
    )
    plan = SupplyPlan(facts, fittings=Fittings(leads=LEADS))
    facts = replace(facts, settings=as_settings(in_force(plan, ()), "{}"))
    run = writer.begin_run(facts, clock=clock, program=f"bathvigil {VERSION}").run
    began_ns, vigil = clock.wall_ns, Vigil(facts, fittings=plan.fittings)
    entries: list[Stored] = []
    last_ns, t_ns = -ESTIMATE_NS, 0
    for seq, (t_s, volts, amps, celsius, mode) in enumerate(rows):
        t_ns = round(float(t_s or 0.0) * 1e9) + 1
        sample = Sample(
            seq=seq,
            t_ns=t_ns,
            utc_ns=began_ns + t_ns,
            latency_us=9000,
            volts=None if volts is None else float(volts),
            amps=None if amps is None else float(amps),
            celsius=None if celsius is None else float(celsius),
            mode=MODES.get(str(mode), Mode.UNKNOWN),
        )
        verdict = vigil.update(sample)
        entries.append((run, sample))
        if t_ns - last_ns >= ESTIMATE_NS or verdict.events:
            entries.append((run, verdict.estimate))
            last_ns = t_ns
        entries += [(run, event) for event in verdict.events]
        entries += [(run, prompt) for prompt in verdict.prompts]
        if verdict.explanation is not None:
            entries.append((run, verdict.explanation))
    clock.go_on(t_ns)
    writer.write(entries)
    why = EndReason.AFTER_CUT_OUT if run_line["tripped"] else EndReason.BY_OPERATOR
    writer.end_run(run, t_ns, why)
    return run


def _write_card(box: JobBox, run_line: Line, run: int) -> None:
    operator = str(run_line["operator"])
    box.put_card(
        run,
        JobCard(
            bath=str(run_line["bath"]),
            step="strip",
            way=Way(str(run_line["way"])),
            part=str(run_line["part"]),
            area_dm2=float(run_line["area_dm2"] or 0.0),
            micrometres=float(run_line["micrometres"] or 0.0),
            operator=operator,
            reference=f"order {FIRST_ORDER + run // 2}",
        ),
    )
    is_stripped = bool(run_line["wetted"])
    gone = Gone.YES if is_stripped else Gone.PATCHES
    box.put_outcome(run, Outcome(gone, is_stripped, operator))
