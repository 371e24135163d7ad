"""The recorder: polls the supplies, raises alarms, stores every row; it needs no screen.

One thread per port polls, estimates and raises alarms; one thread writes. Nothing on the way from
a reading to an alarm waits for a disk, a screen or a network.
"""

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from drivers.address import parse_address
from drivers.base.clock import SystemClock, asleep_ns
from drivers.link.port_names import line_of
from monitor.alarms.catalogue import BY_NAME, OF_THE_RECORDER
from monitor.base.aside import Aside
from monitor.base.errors import StoreError
from monitor.model.alarm import AlarmEvent, AlarmName, Change, State
from monitor.model.event import Mark, SettingChange, Status
from monitor.model.finding import Finding
from monitor.model.run import EndReason, RunRow
from monitor.model.sample import Gap, Sample
from monitor.recorder.errands import Errands
from monitor.recorder.in_force import InForce, as_settings, changes, in_force, service_status
from monitor.recorder.left_standing import left_standing
from monitor.recorder.lock import supply_locks
from monitor.recorder.mishap import Mishaps, traceback_of
from monitor.recorder.open_run import OpenRun, open_run
from monitor.recorder.pause import PauseWatch
from monitor.recorder.plan import SupplyPlan
from monitor.recorder.reaching import ReachedSupply, reach_supplies
from monitor.recorder.restored_vigil import restored_vigil
from monitor.recorder.schedule import Schedule
from monitor.recorder.scribe import Scribe
from monitor.recorder.sound.proof import SoundProof
from monitor.recorder.sound.sounder import Sounder, SoundState
from monitor.recorder.station import Station, keep_polling, next_try_noter
from monitor.recorder.surroundings import Outside, Surroundings
from monitor.recorder.wall_clock import WallClockWatch
from monitor.recorder.watched import Watched
from monitor.store.writer import StoreWriter
from monitor.text import badges
from monitor.watch.vigil import Verdict, Vigil

Listener = Callable[[RunRow, Sample | Gap, Verdict], None]
WAKE_EVERY_S = 0.5
MOST_UNHEARD = 1_000
"""Rows that wait for the listener: three minutes of a supply at 5 Hz."""


_Heard = tuple[RunRow, Sample | Gap, Verdict]


class Recorder:
    """Records the planned supplies until stopped.

    Parameters
    ----------
    store
        The run store; made where there is none.
    plans
        The supplies; those on one port take turns in one thread.
    listen
        Called with each row and what it means, in a thread of its own: however slow it is, or
        stuck, no poll and no alarm waits for it.
    complain
        Called with sentences for people.
    new_runs
        True begins new runs even where one was interrupted a moment ago.
    keep_trying
        True begins though no supply can be reached yet.
    sounder
        Makes alarms heard; None for a recorder that is to be silent (tests, benchmarks).
    outside
        Who else is told; None for nobody.
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
        outside: Outside | None = None,
    ) -> None:
        self._store = store
        self._plans = plans
        self._listen = listen
        self._complain = complain
        self._new_runs = new_runs
        self._keep_trying = keep_trying
        self._sounder = sounder
        self._outside = outside or Outside()
        self._surroundings: Surroundings | None = None
        self._real = SystemClock()
        self._stop = threading.Event()
        self._why: str = EndReason.STOPPED
        self._sound = SoundProof(SoundState(None, "no sound was asked for"))
        self._watched: dict[int, Watched] = {}
        self._scribe: Scribe | None = None
        self._mishaps = Mishaps(self._real, self.report, self.note_status)
        self._unheard: Aside[_Heard] = Aside(
            "listening", self._hear, self._tell_unheard, MOST_UNHEARD
        )

    def stop(self, why: str = EndReason.STOPPED) -> None:
        """Ask for the end; callable from any thread and from a signal handler."""
        if not self._stop.is_set():
            self._why = why
        self._stop.set()

    def run(self, for_s: float | None = None) -> None:
        """Record until stopped, every run was ended, or `for_s` seconds of run time are over.

        Raises
        ------
        BathvigilError
            Where no supply can be reached, another recorder asks one, or the store cannot be
            opened. Nothing was begun.
        """
        second = [plan.amps.address for plan in self._plans if plan.amps is not None]
        addresses = [
            parse_address(text)
            for text in (*(plan.facts.address for plan in self._plans), *dict.fromkeys(second))
        ]
        with supply_locks(addresses, self._store):
            self._run(for_s)

    def _run(self, for_s: float | None) -> None:
        supplies = reach_supplies(self._plans, self._real, self._keep_trying, self._complain)
        try:
            with StoreWriter(self._store) as writer:
                if writer.set_aside is not None:
                    self._complain(f"the store was damaged and is now at {writer.set_aside}")
                with self._mishaps.watches_threads():
                    self._record(writer, supplies, for_s)
        finally:
            for supply in supplies:
                supply.driver.close()

    def _record(
        self, writer: StoreWriter, supplies: Sequence[ReachedSupply], for_s: float | None
    ) -> None:
        errands = Errands(
            self._store,
            self._watched,
            self._note_event,
            self._put_apart,
            self._was_heard,
            self.stop,
        )
        tell, broke = self._tell_store_trouble, self._mishaps.take
        scribe = Scribe(writer, self._real, errands.take, tell, broke)
        self._scribe = scribe
        for supply in supplies:
            watched = self._begin(writer, supply)
            self._watched[watched.row.run] = watched
            errands.look_up_like_jobs(watched, watched.begun.card)
        scribe.start(set(self._watched))
        for alarm in OF_THE_RECORDER:
            self.report(Finding(alarm, False, "as it should be"))
        if self._sounder is not None:
            self.note_sound(self._sounder.state)
            self._sounder.try_out()
        surroundings = Surroundings(
            self._outside,
            self._store,
            self._watched,
            scribe,
            self._real,
            self.report,
            self.note_status,
            self._put_apart,
        )
        self._surroundings = surroundings
        self._unheard.start()
        threads = self._start_polling()
        surroundings.start()
        speed = self._plans[0].facts.clock_speed
        if not self._waited(None if for_s is None else for_s / speed):
            self.stop(EndReason.TIME_OVER)
        for thread in threads:
            thread.join()
        surroundings.close()
        self._unheard.close()
        scribe.close()
        self._end_runs(writer)

    def _waited(self, seconds: float | None) -> bool:
        """Wait to be told to stop; False where the seconds were over first."""
        began_ns = self._real.monotonic_ns()
        while True:
            passed_s = (self._real.monotonic_ns() - began_ns) / 1e9
            left_s = WAKE_EVERY_S if seconds is None else seconds - passed_s
            if left_s <= 0.0:
                return False
            # A signal that another thread was given is handled only once this one wakes.
            if self._stop.wait(min(left_s, WAKE_EVERY_S)):
                return True

    def _end_runs(self, writer: StoreWriter) -> None:
        """Store the end of each run, as far as the store lets it; then tell the first failure."""
        failure: StoreError | None = None
        for run, watched in self._watched.items():
            try:
                writer.end_run(run, watched.last_t_ns, watched.ended_why or self._why)
            except StoreError as one:
                failure = failure or one
        if failure is not None:
            raise failure

    def _begin(self, writer: StoreWriter, supply: ReachedSupply) -> Watched:
        plan = supply.plan
        identity = supply.identity
        channels = [channel.name for channel in self._outside.notices.channels]
        limits = in_force(plan, channels)
        facts = replace(
            plan.facts,
            identity=identity.text if identity is not None else "",
            settings=as_settings(limits, plan.facts.settings),
        )
        begun = open_run(self._store, writer, facts, self._new_runs)
        self._keep_changes(writer, begun, in_force(plan, channels, begun.card))

        def fresh() -> Vigil:
            vigil = Vigil(plan.facts, plan.no_data_after_s, plan.per_kelvin, plan.fittings)
            vigil.take_card(begun.card)
            return vigil

        vigil = restored_vigil(self._store, begun, fresh, self._complain)
        taken_over = self._take_over(begun, vigil)
        if self._sounder is not None:
            # What nobody had acknowledged when the last recorder died sounds on.
            for event in begun.events:
                self._sounder.take(begun.row.run, event)
        first = begun.segment
        run = begun.row.run
        for event in vigil.keep_out_of_service(
            plan.out_of_service, first.began_seq, first.began_t_ns
        ):
            self._put_apart(run, event)
            self._complain(f"{facts.supply}: {event.alarm} is {event.message}")
        self._put_apart(run, service_status(plan.out_of_service, self._real.utc_ns()))
        station = Station(
            run=begun.row.run,
            driver=supply.driver,
            vigil=vigil,
            schedule=Schedule(begun.began_ns, facts.poll_s, first.began_seq, first.began_t_ns),
            began_ns=begun.began_ns,
            clock=begun.clock,
            real=self._real,
            sink=self._note,
            must_be=begun.row.facts.identity or None,
            opened=identity,
            tell_wait=next_try_noter(self._put_apart, run, begun.clock, facts.clock_speed),
            limit_amps=facts.limit_amps,
        )
        port = line_of(parse_address(facts.address))
        now_ns = self._real.monotonic_ns()
        is_real = facts.clock_speed == 1
        wall = WallClockWatch(begun.apart_ns, asleep_ns if is_real else lambda: 0)
        begins = (begun, port, station, begun.marks, first.began_t_ns, wall, now_ns)
        return Watched(*begins, taken_over=taken_over)

    def _take_over(self, begun: OpenRun, vigil: Vigil) -> tuple[AlarmEvent, ...]:
        """Let stand in a new run what nobody acknowledged in the last; told with its first row."""
        if begun.events or begun.has_rows:
            return ()
        try:
            left = left_standing(self._store, begun.row)
        except Exception as failure:
            # Also a bug of ours, met in these very rows: the run must begin all the same.
            self._complain(f"alarms of earlier runs cannot be looked up: {failure}")
            return ()
        return vigil.take_over(left, begun.segment.began_seq, begun.segment.began_t_ns)

    def _keep_changes(self, writer: StoreWriter, begun: OpenRun, limits: InForce) -> None:
        """Store the limits that changed while a run was interrupted."""
        row, segment = begun.row, begun.segment
        changed = changes(
            row.facts.settings, begun.changes, limits, segment.began_t_ns, segment.began_utc_ns
        )
        writer.write([(row.run, change) for change in changed])
        for change in changed:
            self._complain(f"{row.facts.supply}: {change.name} is now {change.after}")

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

    def _poll_port(self, port: str, group: list[Watched]) -> None:
        stations = [watched.station for watched in group]
        first = group[0].begun
        pauses = PauseWatch(first.clock, self._real, first.row.facts.clock_speed)
        try:
            keep_polling(stations, first.clock, self._stop, pauses)
        except BaseException as bug:
            # What each station guards against has come all the same: its alarm is made by hand.
            for watched in group:
                self._give_up(watched, bug)
            self._complain(f"the watch of {port} has ended:\n{traceback_of(bug)}")

    def _give_up(self, watched: Watched, bug: BaseException) -> None:
        """Report a supply whose watch has failed; the others go on."""
        if watched.ended_why is not None:
            return
        run, kind = watched.row.run, BY_NAME[AlarmName.WATCH_FAILED]
        words = f"the watch failed: {type(bug).__name__}: {bug}"
        state, change = State.UNACKNOWLEDGED, Change.RAISED
        seq, t_ns = watched.station.schedule.next_seq, watched.last_t_ns + 1
        self._note_event(
            run, AlarmEvent(kind.name, 1, change, state, kind.priority, seq, t_ns, words)
        )
        trace = f"{badges.WATCH_FAILED}: {traceback_of(bug)}"
        self._put_apart(run, Status("watch", self._real.utc_ns(), trace, False))

    def _note(self, run: int, row: Sample | Gap, verdict: Verdict) -> None:
        watched = self._watched[run]
        if watched.ended_why is not None or self._scribe is None:
            return
        watched.last_t_ns = row.t_ns
        watched.evaluated_ns = self._real.monotonic_ns()
        if isinstance(row, Sample):
            watched.sampled_ns = watched.evaluated_ns
            step = watched.wall_clock.take(row)
            if step is not None:
                self._put_apart(run, step)
                self._complain(f"the wall clock was set from {step.before} to {step.after}")
        if watched.taken_over:
            verdict = verdict._replace(events=(*watched.taken_over, *verdict.events))
            watched.taken_over = ()
        for event in verdict.events:
            self._announce(run, event)
        if self._sounder is not None:
            for prompt in verdict.prompts:
                self._sounder.ask(prompt)
        self._scribe.note(run, row, verdict)
        self._unheard.put((watched.row, row, verdict))

    def _hear(self, heard: _Heard) -> None:
        try:
            self._listen(*heard)
        except Exception as bug:
            # Whoever only looks on ends no watch.
            self._mishaps.take("listening", bug)

    def _tell_unheard(self, count: int) -> None:
        self._complain(f"{count} readings were stored, but not told: the output was not read")

    def _note_event(self, run: int, event: AlarmEvent) -> None:
        self._announce(run, event)
        self._put_apart(run, event)

    def _announce(self, run: int, event: AlarmEvent) -> None:
        if self._sounder is not None:
            self._sounder.take(run, event)
        if self._surroundings is not None:
            self._surroundings.take(self._watched[run].row, event)

    def _put_apart(self, run: int, thing: Mark | AlarmEvent | Status | SettingChange) -> None:
        if self._scribe is not None:
            self._scribe.note_apart(run, thing)

    def report(self, finding: Finding) -> None:
        """Let every run judge what was found out about the recorder itself; from any thread."""
        for watched in self._watched.values():
            watched.report(finding)

    def note_status(self, status: Status) -> None:
        """Keep how a part of the recorder stands in every run; from any thread."""
        for run in self._watched:
            self._put_apart(run, status)

    def note_sound(self, state: SoundState) -> None:
        """Take the truth about the sound; from any thread."""
        self._sound.take(state)
        self.note_status(self._sound.status(self._real.utc_ns()))

    def _was_heard(self, by: str) -> str:
        self._sound.hear(by)
        self.note_status(self._sound.status(self._real.utc_ns()))
        return "noted"

    def _tell_store_trouble(self, why: str | None) -> None:
        if why is None:
            self._complain(f"recording again into {self._store}")
        else:
            self._complain(f"NOT RECORDING: {why}; readings wait in memory")
        words = "readings are stored again" if why is None else why
        self.report(Finding(AlarmName.NOT_RECORDING, why is not None, words))
