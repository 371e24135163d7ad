"""Who turns the volts, and when: the rivals, and operators who follow the advice."""

from dataclasses import dataclass
from typing import Protocol

from benchmarks.outcome_jobs import Bench, Job
from monitor.model.alarm import AlarmName, Change
from monitor.model.fittings import NO_FITTINGS, Fittings
from monitor.model.fittings import Job as FittedJob
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.watch.vigil import Verdict, Vigil

BEGAN_UTC_NS = 1_700_000_000 * 10**9
LONGEST_SHARE = 3.0
"""Of the ideal time, after which a job counts as not finished."""
AGAIN_S = 30.0
THRESHOLD = 0.9
HELD_SHARE = 0.97
LEAST_VOLTS = 2.0
STANDS_SHARE = 0.93
"""Of the limit: what a delicate part stands."""


@dataclass
class Outcome:
    """How one job ended.

    Parameters
    ----------
    seconds
        Until the strip was finished, or given up.
    moves
        Of the volts.
    lowest_volts, window_volts
        The lowest that were set, and those of the step's window.
    is_raised
        Whether the volts were ever set to more than they were.
    amps_after
        The most amps after the first move.
    """

    finished: bool
    cut_out: bool
    seconds: float
    moves: int
    lowest_volts: float
    window_volts: float
    is_raised: bool = False
    amps_after: float = 0.0


class Hand(Protocol):
    """At the knob."""

    def see(self, t_s: float, volts: float, amps: float) -> float | None:
        """The volts to set now; None to leave them."""
        ...


class Nobody:
    """Does nothing."""

    def see(self, t_s: float, volts: float, amps: float) -> float | None:
        """The volts to set now; None to leave them."""
        return None


class Threshold:
    """Takes a volt off each time that the amps pass nine tenths of the limit."""

    def __init__(self, job: Job, reaction_s: float) -> None:
        self._job, self._reaction_s = job, reaction_s
        self._due_s: float | None = None
        self._moved_s = -AGAIN_S

    def see(self, t_s: float, volts: float, amps: float) -> float | None:
        if self._due_s is None:
            over = amps > THRESHOLD * self._job.plate.limit_amps
            if over and t_s - self._moved_s >= AGAIN_S:
                self._due_s = t_s + self._reaction_s
        elif t_s >= self._due_s:
            self._due_s, self._moved_s = None, t_s
            return volts - 1.0
        return None


def watch_of(job: Job, fittings: Fittings = NO_FITTINGS) -> Vigil:
    """The recorder's own watch of a job."""
    facts = RunFacts(
        job.plate.name,
        "",
        job.plate.limit_amps,
        bath_litres=job.told_litres,
        poll_s=job.poll_s,
    )
    vigil = Vigil(facts, fittings=fittings)
    vigil.expect(amp_hours=job.told_amp_hours)
    return vigil


class Watched:
    """An operator with bathvigil beside him."""

    def __init__(self, job: Job, reaction_s: float) -> None:
        self._job, self._reaction_s = job, reaction_s
        self._vigil = watch_of(job, self.fittings_of(job))
        self._seq = 0
        self._due_s: float | None = None

    def fittings_of(self, job: Job) -> Fittings:
        """What the settings say of the part."""
        return NO_FITTINGS

    def see(self, t_s: float, volts: float, amps: float) -> float | None:
        t_ns = round(t_s * 1e9)
        row = Sample(self._seq, t_ns, BEGAN_UTC_NS + t_ns, 0, volts, amps)
        self._seq += 1
        return self._decide(t_s, volts, self._vigil.update(row))

    def _decide(self, t_s: float, volts: float, verdict: Verdict) -> float | None:
        raise NotImplementedError


class AlarmFollower(Watched):
    """Takes a volt off whenever the alarm stands; no number is told."""

    _stands = False
    _moved_s = -AGAIN_S

    def _decide(self, t_s: float, volts: float, verdict: Verdict) -> float | None:
        for event in verdict.events:
            if event.alarm == AlarmName.TRIP_EXPECTED:
                self._stands = event.change not in (Change.RETURNED, Change.SUPPRESSED)
        if self._due_s is None:
            if self._stands and t_s - self._moved_s >= AGAIN_S:
                self._due_s = t_s + self._reaction_s
        elif t_s >= self._due_s:
            self._due_s, self._moved_s = None, t_s
            return volts - 1.0
        return None


class AdviceFollower(Watched):
    """Sets what is advised when it is due, or as soon after the first word as he can.

    Where he comes after the first word, he sets the newest.
    """

    at_once = False
    late_s = 0.0

    def __init__(self, job: Job, reaction_s: float) -> None:
        super().__init__(job, reaction_s)
        self._volts: float | None = None
        self._first_s: float | None = None
        self.told = 0

    def does(self, volts: float, advised: float) -> float:
        """The volts that he sets."""
        return advised

    def _decide(self, t_s: float, volts: float, verdict: Verdict) -> float | None:
        advice = verdict.advice
        if advice is not None:
            self.told += advice.volts is not None
            self._volts = advice.volts
            if advice.volts is None:
                self._first_s = self._due_s = None
            else:
                self._first_s = t_s if self._first_s is None else self._first_s
                due_s = t_s if self.at_once else t_s + (advice.act_within_s or 0.0)
                if advice.act_within_s or self._due_s is None:
                    self._due_s = max(self._first_s + self._reaction_s, due_s) + self.late_s
        if self._volts is None or self._due_s is None or t_s < self._due_s:
            return None
        wanted, self._volts, self._first_s, self._due_s = self._volts, None, None, None
        return round(self.does(volts, wanted), 1)


class HalfFollower(AdviceFollower):
    """Does half of what is told."""

    def does(self, volts: float, advised: float) -> float:
        return 0.5 * (volts + advised)


class TooFarFollower(AdviceFollower):
    """Turns a volt too far."""

    def does(self, volts: float, advised: float) -> float:
        return advised - 1.0


class LateFollower(AdviceFollower):
    """Comes half a minute late."""

    late_s = 30.0


class DelicateFollower(AdviceFollower):
    """Follows the advice with a part that stands less than the supply gives."""

    def fittings_of(self, job: Job) -> Fittings:
        return Fittings(job=FittedJob(1.0, None, STANDS_SHARE * job.plate.limit_amps))


class AdviceAtOnce(AdviceFollower):
    """Sets at the first word what is only due later."""

    at_once = True


def play(job: Job, hand: Hand, ideal_s: float) -> Outcome:
    """One job with one hand at the knob."""
    bench = Bench(job)
    went = Outcome(False, False, 0.0, 0, job.volts, job.lowest_volts)
    every = round(job.poll_s / 0.25)
    steps = 0
    while bench.t_s < LONGEST_SHARE * ideal_s + 60.0:
        bench.step()
        steps += 1
        if bench.has_cut_out or bench.cell.is_stripped:
            went.cut_out, went.finished = bench.has_cut_out, not bench.has_cut_out
            break
        if went.moves:
            went.amps_after = max(went.amps_after, bench.supply.amps)
        if steps % every == 0:
            volts, amps = bench.measured()
            wanted = hand.see(bench.t_s, volts, amps)
            if wanted is not None and abs(wanted - bench.supply.volts_set) > 0.04:
                went.is_raised |= wanted > bench.supply.volts_set
                bench.supply.volts_set = max(wanted, LEAST_VOLTS)
                # What flows until the supply has followed is not the move's.
                bench.step()
                steps += 1
                went.moves += 1
                went.lowest_volts = min(went.lowest_volts, bench.supply.volts_set)
    went.seconds = bench.t_s
    return went


def ideal_s(job: Job) -> float:
    """Seconds with the amps held at 97 % of the limit."""
    bench = Bench(job)
    while not bench.cell.is_stripped:
        bench.hold(HELD_SHARE * job.plate.limit_amps)
        bench.step()
    return bench.t_s
