"""Plans in; runs in the store and events to a listener out: the recorder, which needs no screen.

One thread per port polls, estimates and raises alarms; one thread writes. Nothing on the way from
a reading to an alarm waits for a disk, a screen or a network.
"""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from drivers.address import parse_address
from drivers.clock import SystemClock
from drivers.driver import Driver, DriverSetUp
from drivers.errors import DriverError
from drivers.reading import Identity
from drivers.registry import open_driver
from monitor.acquiring.plan import SupplyPlan
from monitor.acquiring.schedule import Schedule
from monitor.acquiring.scribe import Scribe
from monitor.acquiring.station import Station, keep_polling
from monitor.acquiring.taking_up import TakenUp, take_up
from monitor.alarms.alarm import AlarmEvent
from monitor.errors import BathvigilError
from monitor.sample import Gap, Sample
from monitor.sounding.sounder import Sounder
from monitor.store.rows import Mark, Request, RequestKind, RunRow
from monitor.store.writer import StoreWriter
from monitor.vigil import Verdict, Vigil

Listener = Callable[[RunRow, Sample | Gap, Verdict], None]
BY_OPERATOR = "ended by the operator"


@dataclass(slots=True)
class _Supply:
    """A planned supply and its driver, asked once before its run begins."""

    plan: SupplyPlan
    driver: Driver
    identity: Identity | None
    failure: DriverError | None


@dataclass(slots=True)
class _Watched:
    """One run being recorded."""

    taken_up: TakenUp
    port: str
    station: Station
    marks: int
    last_t_ns: int
    ended_why: str | None = None

    @property
    def row(self) -> RunRow:
        return self.taken_up.row


class Recorder:
    """Records the planned supplies until stopped.

    Parameters
    ----------
    store
        The run store; made where there is none.
    plans
        The supplies; those on one port take turns in one thread.
    listen
        Called in the polling threads with each row and what it means; must be quick.
    complain
        Called with sentences for people.
    new_runs
        True begins new runs even where one was interrupted a moment ago.
    keep_trying
        True begins though no supply can be reached yet.
    sounder
        Makes alarms heard; None for a recorder that is to be silent (tests, benchmarks).
    """

    def __init__(
        self,
        store: Path,
        plans: Sequence[SupplyPlan],
        listen: Listener,
        complain: Callable[[str], None],
        new_runs: bool = False,
        keep_trying: bool = False,
        sounder: Sounder | None = None,
    ) -> None:
        self._store = store
        self._plans = plans
        self._listen = listen
        self._complain = complain
        self._new_runs = new_runs
        self._keep_trying = keep_trying
        self._sounder = sounder
        self._real = SystemClock()
        self._stop = threading.Event()
        self._why = "stopped"
        self._watched: dict[int, _Watched] = {}
        self._scribe: Scribe | None = None

    def stop(self, why: str = "stopped") -> None:
        """Ask for the end; callable from any thread and from a signal handler."""
        if not self._stop.is_set():
            self._why = why
        self._stop.set()

    def run(self, for_s: float | None = None) -> None:
        """Record until stopped, every run was ended, or `for_s` seconds of run time are over.

        Raises
        ------
        BathvigilError
            Where no supply can be reached, or the store cannot be opened. Nothing was begun.
        """
        supplies = self._reach_supplies()
        try:
            with StoreWriter(self._store) as writer:
                if writer.set_aside is not None:
                    self._complain(f"the store was damaged and lies now at {writer.set_aside}")
                self._record(writer, supplies, for_s)
        finally:
            for supply in supplies:
                supply.driver.close()

    def _reach_supplies(self) -> list[_Supply]:
        supplies = []
        for plan in self._plans:
            address = parse_address(plan.facts.address)
            supply = _Supply(
                plan,
                open_driver(DriverSetUp(address, self._real, plan.timeout_s, plan.description)),
                None,
                None,
            )
            try:
                supply.identity = supply.driver.open()
            except DriverError as failure:
                supply.driver.close()
                supply.failure = failure
            supplies.append(supply)
        failures = [supply.failure for supply in supplies if supply.failure is not None]
        if len(failures) == len(supplies) and not self._keep_trying:
            raise BathvigilError(f"{failures[0]} (--keep-trying begins all the same)")
        for unreached in failures:
            self._complain(f"{unreached}; it is tried again")
        return supplies

    def _record(
        self, writer: StoreWriter, supplies: Sequence[_Supply], for_s: float | None
    ) -> None:
        scribe = Scribe(self._store, writer, self._real, self._take_request, self._complain)
        self._scribe = scribe
        for supply in supplies:
            watched = self._begin(writer, supply)
            self._watched[watched.row.run] = watched
        scribe.start(set(self._watched))
        threads = self._start_polling()
        speed = self._plans[0].facts.clock_speed
        if not self._stop.wait(None if for_s is None else for_s / speed):
            self.stop("time is over")
        for thread in threads:
            thread.join()
        scribe.close()
        for run, watched in self._watched.items():
            writer.end_run(run, watched.last_t_ns, watched.ended_why or self._why)

    def _begin(self, writer: StoreWriter, supply: _Supply) -> _Watched:
        plan = supply.plan
        identity = supply.identity
        facts = replace(plan.facts, identity=identity.text if identity is not None else "")
        taken_up = take_up(self._store, writer, facts, self._new_runs)
        vigil = Vigil(plan.facts, plan.no_data_after_s, plan.per_kelvin)
        vigil.restore(list(taken_up.events))
        first = taken_up.segment
        station = Station(
            run=taken_up.row.run,
            driver=supply.driver,
            vigil=vigil,
            schedule=Schedule(taken_up.began_ns, facts.poll_s, first.began_seq, first.began_t_ns),
            began_ns=taken_up.began_ns,
            clock=taken_up.clock,
            real=self._real,
            sink=self._note,
            must_be=taken_up.row.facts.identity or None,
            opened=identity,
        )
        address = parse_address(facts.address)
        port = address.path or f"{address.host}:{address.port}"
        return _Watched(taken_up, port, station, taken_up.marks, first.began_t_ns)

    def _start_polling(self) -> list[threading.Thread]:
        threads = []
        for port in {watched.port for watched in self._watched.values()}:
            group = [watched for watched in self._watched.values() if watched.port == port]
            thread = threading.Thread(
                target=self._poll_port, args=(port, group), name=f"port {port}", daemon=True
            )
            thread.start()
            threads.append(thread)
        return threads

    def _poll_port(self, port: str, group: list[_Watched]) -> None:
        stations = [watched.station for watched in group]
        try:
            keep_polling(stations, group[0].taken_up.clock, self._stop)
        except BaseException:
            # A bug of ours: better an ended run that says so than one that looks alive.
            self.stop(f"the polling of {port} failed")
            raise

    def _note(self, run: int, row: Sample | Gap, verdict: Verdict) -> None:
        watched = self._watched[run]
        if watched.ended_why is not None or self._scribe is None:
            return
        watched.last_t_ns = row.t_ns
        for event in verdict.events:
            self._sound(run, event)
        self._listen(watched.row, row, verdict)
        self._scribe.note(run, row, verdict)

    def _sound(self, run: int, event: AlarmEvent) -> None:
        if self._sounder is not None:
            self._sounder.take(run, event)

    def _take_request(self, request: Request) -> str:
        """Do what the operator asked for; the outcome in words. Runs in the scribe's thread."""
        watched = self._watched[request.run]
        match request.kind:
            case RequestKind.ACKNOWLEDGE:
                watched.station.ask(lambda vigil: self._acknowledge(vigil, request))
                return "taken"
            case RequestKind.MARK | RequestKind.NOTE:
                return self._mark(watched, request)
            case RequestKind.END_RUN:
                watched.ended_why = BY_OPERATOR
                if all(one.ended_why is not None for one in self._watched.values()):
                    self.stop(BY_OPERATOR)
                return "ended"
            case RequestKind.NEXT_STEP:
                return "this run has no further step"

    def _acknowledge(self, vigil: Vigil, request: Request) -> None:
        alarm, _, occurrence = request.detail.partition("#")
        if not occurrence.isdigit() or self._scribe is None:
            return
        event = vigil.acknowledge(alarm, int(occurrence), request.by)
        if event is not None:
            self._sound(request.run, event)
            self._scribe.note_apart(request.run, event)

    def _mark(self, watched: _Watched, request: Request) -> str:
        watched.marks += 1
        began_utc_ns = watched.taken_up.segment.began_utc_ns
        # The key was pressed a moment ago: its wall time says when, within this segment.
        since_ns = max(request.utc_ns - began_utc_ns, 0)
        t_ns = watched.taken_up.segment.began_t_ns + since_ns
        mark = Mark(watched.marks, t_ns, request.utc_ns, request.detail)
        if self._scribe is not None:
            self._scribe.note_apart(watched.row.run, mark)
        return f"mark {watched.marks}"
