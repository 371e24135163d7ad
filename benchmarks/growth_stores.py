"""Stores of a wanted size: long runs, many supplies, many marks and alarms, many runs."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchmarks.store_rows import BATCH, BEGAN_UTC_NS, begin, rows_of_a_run
from drivers.base.clock import SystemClock
from drivers.reading import Mode
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.event import Mark
from monitor.model.request import RequestKind
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.store.batch import Entry
from monitor.store.requests import RequestBox
from monitor.store.writer import StoreWriter

SECOND_NS = 1_000_000_000
ESTIMATE_EVERY = 5
DAY_S = 86_400


@contextmanager
def long_run(path: Path, rows: int) -> Iterator[None]:
    """One run of so many rows, 1 s apart, every fifth with its estimate; it ends with the block."""
    with StoreWriter(path) as writer:
        run = begin(writer)
        entries: list[Entry] = []
        for row in rows_of_a_run(rows, SECOND_NS):
            entries.append((run, row))
            if row.seq % ESTIMATE_EVERY == 0:
                entries.append((run, _estimate(row.seq, row.t_ns)))
            if len(entries) >= BATCH:
                writer.write(entries)
                entries = []
        writer.write(entries)
        yield
        writer.end_run(run, None, "measured")


def eventful_run(path: Path, events: int) -> None:
    """A day of one run with so many marks asked for and so many alarms, going on."""
    with StoreWriter(path) as writer:
        run = begin(writer)
        for first in range(0, DAY_S, BATCH):
            writer.write([(run, _sample(seq)) for seq in range(first, first + BATCH)])
        step_ns = DAY_S * SECOND_NS // (events + 1)
        for first in range(0, events, BATCH):
            numbers = range(first, min(first + BATCH, events))
            writer.write([(run, entry) for number in numbers for entry in _alarm(number, step_ns)])
        box = RequestBox(path)
        for number in range(events):
            box.ask(run, RequestKind.MARK, f"mark {number}", "benchmark")
            if number % 100 == 99:
                _answer(writer, run, step_ns)
        _answer(writer, run, step_ns)


def _answer(writer: StoreWriter, run: int, step_ns: int) -> None:
    """As the recorder does: each request becomes a mark, and is answered."""
    for request in writer.take_requests(run):
        at_ns = request.request * step_ns
        writer.write([(run, Mark(request.request, at_ns, BEGAN_UTC_NS + at_ns, request.detail))])
        writer.answer_request(request, "done")


def many_supplies(path: Path, supplies: int) -> Iterator[StoreWriter]:
    """So many supplies at work, 10 readings a second each; the writer, while they go on."""
    with StoreWriter(path) as writer:
        runs = [begin(writer, f"bench-{number}", 0.1) for number in range(supplies)]
        for first in range(0, 600, 3):
            writer.write(
                [
                    (run, entry)
                    for seq in range(first, first + 3)
                    for run in runs
                    for entry in _reading(seq)
                ]
            )
        yield writer


def many_runs(path: Path, runs: int) -> None:
    """So many short runs, all ended."""
    with StoreWriter(path) as writer:
        for number in range(runs):
            facts = RunFacts(f"bench-{number % 4}", "scpi:/dev/ttyUSB0", 10.0, bath="north tank")
            run = writer.begin_run(facts, clock=SystemClock(), program="benchmark").run
            writer.write([(run, entry) for seq in range(30) for entry in _reading(seq)])
            writer.end_run(run, None, "measured")


def _reading(seq: int) -> list[Sample | Estimate]:
    sample = _sample(seq, SECOND_NS // 10)
    return [sample] if seq % 10 else [sample, _estimate(seq, sample.t_ns)]


def _sample(seq: int, step_ns: int = SECOND_NS) -> Sample:
    t_ns = seq * step_ns
    return Sample(
        *(seq, t_ns, BEGAN_UTC_NS + t_ns, 900, 9.0, 5.0 + seq % 7 / 1000, 25.0),
        mode=Mode.CONSTANT_VOLTAGE,
    )


def _estimate(seq: int, t_ns: int) -> Estimate:
    charge = t_ns / 7.2e11
    return Estimate(
        seq, t_ns, Forecast(why=NoForecast.NO_RISE), Charge(charge, charge, charge, 1.0), 0.7
    )


def _alarm(number: int, step_ns: int) -> list[AlarmEvent]:
    """One that comes, and goes half a step later."""
    seq = number * step_ns // SECOND_NS
    return [
        AlarmEvent(
            "trip-expected",
            number + 1,
            change,
            state,
            Priority.HIGH,
            seq,
            number * step_ns + later_ns,
            "a cut-out is near",
            118.0,
        )
        for change, state, later_ns in (
            (Change.RAISED, State.UNACKNOWLEDGED, 0),
            (Change.ACKNOWLEDGED, State.ACKNOWLEDGED, step_ns // 4),
            (Change.RETURNED, State.NORMAL, step_ns // 2),
        )
    ]
