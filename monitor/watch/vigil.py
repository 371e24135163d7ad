"""Watches one run, row by row: its estimates, the changes of its alarms, and its prompts.

The recorder, `replay` and the benchmarks all run this, so that the same samples give the same
answers everywhere.
"""

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from monitor.alarms.board import Board
from monitor.alarms.conditions import ALL_WELL, Conditions, interruptions
from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.analysis.cause.recollection import Recollection
from monitor.analysis.chain import Chain
from monitor.analysis.cut_out import FLOWS
from monitor.model.alarm import AlarmEvent, AlarmName
from monitor.model.bath_prior import BathPrior
from monitor.model.card import JobCard, Way
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.event import Prompt, PromptName
from monitor.model.explanation import Explanation
from monitor.model.finding import Finding
from monitor.model.fittings import NO_FITTINGS, Fittings
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Quality, Sample
from monitor.model.usual_amps import UsualAmps
from monitor.model.volts_advice import VoltsAdvice
from monitor.text.prompts import OUTPUT_IS_OFF, off_or_cut_out
from monitor.watch.adviser import Adviser
from monitor.watch.log_watch import LogWatch
from monitor.watch.look_watch import LookWatch
from monitor.watch.output_watch import OutputWatch
from monitor.watch.seen import Seen, Watcher
from monitor.watch.step_watch import StepWatch
from monitor.watch.strip_steps import StripSteps
from monitor.watch.supply_watch import SupplyWatch
from monitor.watch.switch_on import SwitchOn
from monitor.watch.time_watch import TimeWatch

_TRIP_EXPECTED = AlarmName.TRIP_EXPECTED
_NO_DATA = AlarmName.NO_DATA
_OUTPUT_OFF = NoForecast.OUTPUT_OFF
_NOT_ENOUGH_DATA = NoForecast.NOT_ENOUGH_DATA
_SUSPECT = Quality.SUSPECT
_SWAB = Way.SWAB
"""Held here: in Python 3.11 finding a member in its class takes ten times as long."""

ASK_FOR_LESS = (AlarmName.TRIP_EXPECTED, AlarmName.MARGIN_SMALL)
AS_EXPECTED = Forecast(why=NoForecast.AS_EXPECTED)
WATCHED_EVERY_S = 2.9
"""So often the watchers look while nothing is to be judged: what they watch takes longer."""
NO_DATA_POLLS = 3
"""Polls that must go unanswered before nothing is said to be known."""
LOSSY_POLLS, LOSSY_S = 6.5, 15.0
"""Up to the seventh, where that takes no longer: of a line that loses every fifth answer, seven in
a row are lost by chance once in many hours, three in a row every few minutes."""


class Verdict(NamedTuple):
    """What one row meant; a tuple, since one is made with each sample."""

    estimate: Estimate
    events: tuple[AlarmEvent, ...] = ()
    prompts: tuple[Prompt, ...] = ()
    explanation: Explanation | None = None
    advice: VoltsAdvice | None = None


class Vigil:
    """Watches one run.

    Parameters
    ----------
    facts
        The run's supply, limit, bath and poll interval.
    no_data_after_s
        Seconds without a good sample before `no-data`; never less than three polls, nor than seven
        within `LOSSY_S`.
    per_kelvin
        The bath's own temperature coefficient of conductance, 1/K.
    fittings
        What the amps go through, and may do there, before any job card; the attribute is what is in
        force with the last card.
    usual_amps
        What like jobs drew, as `UsualAmps`; None without any.
    """

    def __init__(
        self,
        facts: RunFacts,
        no_data_after_s: float = 5.0,
        per_kelvin: float = CAUSTIC_PER_KELVIN,
        fittings: Fittings = NO_FITTINGS,
        usual_amps: tuple[float, float, float] | None = None,
    ) -> None:
        self._given = fittings
        self.fittings = fittings = fittings.for_card(JobCard())
        self._limit_amps = facts.limit_amps
        self._given_horizon_s = self.horizon_s = facts.horizon_s
        self._step_watch = StepWatch(fittings.step, facts.limit_amps)
        self._chain = Chain(
            limit_amps=facts.limit_amps,
            limit_kind=facts.limit_kind,
            horizon_s=facts.horizon_s,
            poll_s=facts.poll_s,
            bath_litres=facts.bath_litres,
            per_kelvin=per_kelvin,
            fittings=fittings,
        )
        self._conditions = Conditions(
            facts.limit_amps,
            facts.limit_kind,
            max(
                no_data_after_s,
                NO_DATA_POLLS * facts.poll_s,
                min(LOSSY_POLLS * facts.poll_s, LOSSY_S),
            ),
            fittings,
            facts.poll_s,
        )
        self._board = Board()
        self._trip_expected = self._board.standing(_TRIP_EXPECTED)
        self._recollection = Recollection(facts.limit_amps)
        self._steps = StripSteps()
        self._log_watch = LogWatch(facts.limit_amps)
        self._supply_watch = SupplyWatch(facts.limit_kind, fittings)
        self._is_doubt_told = False
        self._way: Way | None = None
        self._flows = FLOWS * facts.limit_amps
        self.adviser = Adviser(facts, per_kelvin, fittings)
        self._output = OutputWatch()
        usual = None if usual_amps is None else UsualAmps(*usual_amps)
        self._switch_on = SwitchOn(fittings, usual, per_kelvin)
        self._time_watch = TimeWatch(fittings)
        self._watchers: tuple[Watcher, ...] = (
            self._time_watch,
            self._output,
            LookWatch(),
            self._switch_on,
        )
        self._reported: dict[str, Finding] = {}
        self._failure: Finding | None = None
        self._estimate = Estimate(0, 0, Forecast(why=NoForecast.NOT_ENOUGH_DATA), Charge())
        self._judged: tuple[Finding, ...] = ()
        self._watched: tuple[Finding, ...] = ()
        self._findings: tuple[Finding, ...] = ()
        self._calm_until_s = 0.0
        self._calm_s: float | None = None
        self._last_seq = 0
        self._last_t_ns = 0

    def update(self, row: Sample | Gap) -> Verdict:
        """Take the next row; rows must come in order."""
        self._last_seq, self._last_t_ns = row.seq, row.t_ns
        if self._failure is not None:
            return self._without_estimators(row, self._failure)
        chain = self._chain
        estimate = self._estimate = chain.update(row)
        is_swab = self._way is _SWAB or chain.is_swab
        judged = self._conditions.judge(
            row,
            estimate,
            self._trip_expected.is_on,
            chain.holding,
            chain.polarisation.bounds,
            not self._steps.is_idle,
            is_swab,
            self._output.is_at_rest,
        )
        t_s = row.t_s
        is_off = self._is_switched_off(estimate)
        advice = self.adviser.update(row, estimate, chain, is_off, is_swab, self._steps.step)
        is_calm = self._conditions.is_calm and advice is None and not self.adviser.action
        if is_calm and t_s < self._calm_until_s and chain.finished is None:
            # Nothing is to be judged, and the watchers have just looked.
            self._calm_s = t_s
            self._recollection.update(row, estimate)
            if judged is not self._judged:
                self._judged = judged
                self._findings = (*ALL_WELL, *judged, *self._watched, *self._reported.values())
            events = self._board.update(row, self._findings, estimate.forecast)
            return Verdict(self._shown(t_s, estimate), tuple(events))
        if self._calm_s is not None:
            self._time_watch.note_flow(self._calm_s)
            self._calm_s = None
        explanation = self._explain(row, estimate, judged)
        if explanation is not None:
            judged = tuple(_explained(finding, explanation) for finding in judged)
        if self.adviser.action:
            judged = tuple(_advised(finding, self.adviser.action) for finding in judged)
        watched, asked = self._watch(row, estimate, judged[0], is_off, is_swab)
        findings = (*interruptions(row), *judged, *watched, *self._reported.values())
        self._judged, self._watched, self._findings = judged, watched, findings
        events = self._board.update(row, findings, estimate.forecast)
        prompts = self._prompt(row, estimate, is_off) + asked
        if advice is not None:
            name = PromptName.TURNED_DOWN if advice.volts is None else PromptName.TURN_DOWN
            prompts.append(Prompt(name, row.seq, row.t_ns, advice.message))
        is_calm = self._conditions.is_calm and self._steps.is_idle
        is_calm = is_calm and not self._time_watch.is_anew
        self._calm_until_s = t_s + WATCHED_EVERY_S if is_calm else 0.0
        shown = self._shown(t_s, estimate)
        return Verdict(shown, tuple(events), tuple(prompts), explanation, advice)

    def _shown(self, t_s: float, estimate: Estimate) -> Estimate:
        """The same with the known bath's forecast, where the trend has none or is far off."""
        forecast = estimate.forecast
        if forecast.why is _NOT_ENOUGH_DATA and self._switch_on.fits(t_s):
            return estimate._replace(forecast=AS_EXPECTED)
        shown = self.adviser.forecast(t_s, forecast)
        return estimate if shown is forecast else estimate._replace(forecast=shown)

    def _explain(
        self, row: Sample | Gap, estimate: Estimate, judged: tuple[Finding, ...]
    ) -> Explanation | None:
        conditions, first = self._conditions, judged[0]
        is_lost = first.alarm is _NO_DATA and first.holds is True
        return self._recollection.update(
            row,
            estimate,
            conditions.cut_out,
            conditions.short,
            is_lost,
            conditions.turned_down_from,
            conditions.jump,
        )

    def _watch(
        self, row: Sample | Gap, estimate: Estimate, first: Finding, is_off: bool, is_swab: bool
    ) -> tuple[tuple[Finding, ...], list[Prompt]]:
        """What the watchers say of their alarms, and what they ask."""
        volts = amps = None
        if isinstance(row, Sample) and row.quality is not _SUSPECT:
            volts, amps = row.volts, row.amps
        seen = Seen(
            row,
            row.t_s,
            volts,
            amps,
            amps is not None and amps >= self._flows,
            is_off,
            first.alarm is _NO_DATA and first.holds is True,
            is_swab,
            self._steps.step,
            estimate,
        )
        findings: tuple[Finding, ...] = ()
        prompts = self._supply_watch.update(row, estimate, self._chain, self._conditions)
        for watcher in self._watchers:
            asked = watcher.update(seen)
            if asked:
                prompts += asked
            findings += watcher.findings
        if self._conditions.is_doubtful is not self._is_doubt_told:
            self._is_doubt_told = self._conditions.is_doubtful
            if self._is_doubt_told:
                words = off_or_cut_out(self._conditions.peak_amps, self._limit_amps)
                prompts.append(Prompt(PromptName.OFF_OR_CUT_OUT, row.seq, row.t_ns, words))
        return findings, prompts

    def _prompt(self, row: Sample | Gap, estimate: Estimate, is_off: bool) -> list[Prompt]:
        finish = self._chain.finished
        outside = self._step_watch.update(row, estimate)
        to_log = self._log_watch.update(row, self._conditions.peak_amps, is_off)
        if to_log is not None:
            outside.append(to_log)
        if finish is None and self._steps.is_idle:
            return outside
        prompts = self._steps.update(row.seq, row.t_ns, finish, is_off)
        for prompt in prompts:
            self._recollection.note(prompt.t_s, prompt.prompt)
        return outside + prompts

    def _is_switched_off(self, estimate: Estimate) -> bool:
        return estimate.forecast.why is _OUTPUT_OFF and not self._conditions.cut_out.is_sure

    def take_card(self, card: JobCard) -> None:
        """Go on with the step, the area and the thickness that a job card names."""
        self._calm_until_s = 0.0
        self.fittings = fittings = self._given.for_card(card)
        self._chain.refit(fittings)
        self._conditions.refit(fittings, card.way is Way.SWAB)
        self._step_watch = StepWatch(fittings.step, self._limit_amps)
        self._way = card.way
        self.adviser.refit(fittings)
        self.horizon_s = horizon_s = max(self._given_horizon_s, card.reaction_s or 0.0)
        self._chain.look_so_far(horizon_s)
        self.adviser.look_so_far(horizon_s)
        for watcher in self._watchers:
            watcher.refit(fittings, card.way)

    def expect(
        self,
        usual: UsualAmps | None = None,
        amp_hours: float | None = None,
        prior: BathPrior | None = None,
    ) -> None:
        """Take what earlier runs teach: what like jobs drew, the charge likely taken, the bath."""
        self._switch_on.usual = usual
        self.adviser.expect_charge(amp_hours, self._estimate.charge.amp_hours)
        if prior is not None:
            self.adviser.know(prior)

    def next_step(self, prompt: str = "") -> str:
        """The operator confirms a prompt, or goes on without one; what follows, in words."""
        self._calm_until_s = 0.0
        if self._is_switched_off(self._estimate):
            return OUTPUT_IS_OFF
        return self._steps.confirm(self._last_t_ns / 1e9, prompt)

    def fail(self, words: str) -> None:
        """Go on without estimators and limits, which a bug of ours has broken: with the alarm."""
        self._failure = Finding(AlarmName.WATCH_FAILED, True, words)

    def _without_estimators(self, row: Sample | Gap, failure: Finding) -> Verdict:
        nothing = Forecast(why=NoForecast.PROGRAM_FAILED)
        estimate = self._estimate._replace(seq=row.seq, t_ns=row.t_ns, forecast=nothing)
        events = self._board.update(row, (failure, *self._reported.values()), nothing)
        return Verdict(estimate, tuple(events))

    def report(self, finding: Finding) -> None:
        """Take what the recorder found out about itself; judged with the next row and all later."""
        self._reported[finding.alarm] = finding
        self._calm_until_s = 0.0

    def acknowledge(self, alarm: str, occurrence: int, by: str = "") -> AlarmEvent | None:
        """Acknowledge one occurrence of an alarm; None where there is nothing to acknowledge."""
        return self._board.acknowledge(alarm, occurrence, by, self._last_seq, self._last_t_ns)

    def shelve(self, alarm: str, occurrence: int, by: str = "") -> AlarmEvent | None:
        """Put one occurrence on the shelf; None where that cannot be."""
        return self._board.shelve(alarm, occurrence, by, self._last_seq, self._last_t_ns)

    def unshelve(self, alarm: str, by: str = "") -> AlarmEvent | None:
        """Take an alarm off the shelf; None where it is not there."""
        return self._board.unshelve(alarm, by, self._last_seq, self._last_t_ns)

    def begin_with(self, charge: Charge, seconds: float) -> None:
        """Go on counting from a charge that had passed after so many seconds of the run."""
        self._chain.begin_with(charge, seconds)

    def go_on(self, t_s: float, words: str) -> None:
        """Be told that nobody polled until now, for a reason that the order of events will tell."""
        self._conditions.go_on(t_s)
        self._recollection.note(t_s, words)

    def keep_out_of_service(
        self, reasons: Mapping[str, str], seq: int, t_ns: int
    ) -> list[AlarmEvent]:
        """Judge just these alarms no more, each for its reason; the changes that this made."""
        return self._board.keep_out_of_service(reasons, seq, t_ns)

    def have_asked(self, names: Collection[str]) -> None:
        """Do not repeat what an interrupted run was told at its start."""
        self._supply_watch.have_asked(names)
        if PromptName.TIME_LIMIT in names:
            self._time_watch.have_said()

    def take_over(
        self, left: Sequence[tuple[int, AlarmEvent]], seq: int, t_ns: int
    ) -> tuple[AlarmEvent, ...]:
        """Let the alarms stand that an earlier run has left, each with that run; their changes."""
        return tuple(
            event for run, alarm in left for event in self._board.take_over(run, alarm, seq, t_ns)
        )

    def restore(self, events: list[AlarmEvent]) -> None:
        """Let the alarms stand as an interrupted run's stored events say, and no others."""
        self._board = Board()
        self._trip_expected = self._board.standing(_TRIP_EXPECTED)
        self._board.restore(events)


def _explained(finding: Finding, explanation: Explanation) -> Finding:
    """A cut-out's finding with what happened first; every other one as it is."""
    if finding.alarm is not AlarmName.TRIPPED or not finding.holds:
        return finding
    return finding._replace(message=f"{finding.message}: {explanation.why}")


def _advised(finding: Finding, action: str) -> Finding:
    """What asks for fewer volts, with those that the advice names."""
    if finding.alarm in ASK_FOR_LESS and finding.holds:
        return finding._replace(action=action)
    return finding
