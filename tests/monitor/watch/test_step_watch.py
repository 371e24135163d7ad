"""The step on the card decides which windows hold, and what leaves them is told once."""

import re

import pytest

from monitor.alarms.catalogue import BY_NAME
from monitor.model.alarm import AlarmName, Change
from monitor.model.card import JobCard
from monitor.model.estimate import Charge, Estimate, Forecast, Heat
from monitor.model.event import Prompt, PromptName
from monitor.model.fittings import Fittings, Job
from monitor.model.run import RunFacts
from monitor.model.step import JobStep
from monitor.text.prompts import PROMPT_TEXTS, UNKNOWN_PROMPT
from monitor.watch.step_watch import StepWatch
from monitor.watch.vigil import Vigil
from tests.monitor.analysis.traces import sample

STRIP = JobStep("strip", (6.0, 12.0), (3.9, 8.0), (1.0, 2.0), (15.0, 43.0))
NOTHING = Estimate(0, 0, Forecast(), Charge())


def watched(
    watch: StepWatch,
    seconds: int,
    amps: float = 5.0,
    celsius: float = 20.0,
    density: float = 5.0,
    began: int = 0,
) -> list[Prompt]:
    estimate = NOTHING._replace(celsius=celsius, heat=Heat(amps_per_dm2=density))
    told = []
    for n in range(began, began + seconds):
        told += watch.update(sample(n, float(n), 7.0, amps), estimate)
    return told


def test_a_bath_too_cold_is_told_when_it_has_stood_so() -> None:
    (told,) = watched(StepWatch(STRIP, 10.0), 60, celsius=12.0)
    assert (told.t_s, told.message) == (30.0, "the strip runs at 12 C; its window is 15 to 43 C")


def test_too_thin_a_current_is_told_with_its_window() -> None:
    (told,) = watched(StepWatch(STRIP, 10.0), 60, density=1.2)
    assert told.message == "the strip runs at 1.2 A/dm2; its window is 3.9 to 8 A/dm2"


def test_what_comes_at_once_is_one_prompt() -> None:
    (told,) = watched(StepWatch(STRIP, 10.0), 60, celsius=12.0, density=1.2)
    assert told.message.count("; it runs at") == 1


def test_what_is_not_known_or_has_no_window_is_not_told() -> None:
    unknown = StepWatch(STRIP, 10.0)
    told = [p for n in range(90) for p in unknown.update(sample(n, float(n), 7.0, 5.0), NOTHING)]
    assert told == []
    assert watched(StepWatch(JobStep("rinse"), 10.0), 900, celsius=1.0, density=0.1) == []


def test_every_prompt_has_its_words_and_names_its_key() -> None:
    assert set(PROMPT_TEXTS) <= set(PromptName)
    for text in (*PROMPT_TEXTS.values(), UNKNOWN_PROMPT):
        assert re.search(r"[Pp]ress [xw]\b", text.to_do)


CLEAN = JobStep("clean", (4.0, 8.0), (0.0, 2.0))


@pytest.mark.parametrize(
    ("step", "alarms"),
    [
        ("strip", {AlarmName.OUTSIDE_VOLTAGE_WINDOW}),
        ("clean", {AlarmName.DENSITY_HIGH}),
        ("rinse", set()),
    ],
)
def test_volts_and_density_are_judged_by_the_step_in_force(step: str, alarms: set[str]) -> None:
    # 5 V and 5 A on 1.6 dm2, 3.1 A/dm2: too few volts for a strip, too dense for this cleaning.
    steps = (CLEAN, JobStep("strip", (6.0, 12.0), (0.0, 8.0)), JobStep("rinse"))
    vigil = Vigil(
        RunFacts("bench-1", "", limit_amps=10.0, poll_s=1.0),
        fittings=Fittings(job=Job(area_dm2=9.0), steps=steps),
    )
    vigil.take_card(JobCard(step=step, area_dm2=1.6))
    raised = {
        event.alarm
        for n in range(60)
        for event in vigil.update(sample(n, float(n), 5.0, 5.0)).events
        if event.change is Change.RAISED
    }
    assert raised == alarms


def test_another_card_ends_what_the_step_before_it_raised() -> None:
    facts = RunFacts("bench-1", "", limit_amps=10.0, poll_s=1.0)
    vigil = Vigil(facts, fittings=Fittings(steps=(CLEAN, JobStep("strip", (6.0, 12.0)))))
    changes = []
    for n in range(60):
        if n == 30:
            vigil.take_card(JobCard(step="clean"))
        changes += [
            (event.change, event.t_s)
            for event in vigil.update(sample(n, float(n), 5.0, 5.0)).events
            if event.alarm == AlarmName.OUTSIDE_VOLTAGE_WINDOW
        ]
    window = BY_NAME[AlarmName.OUTSIDE_VOLTAGE_WINDOW]
    assert changes == [
        (Change.RAISED, window.on_delay_s),
        (Change.RETURNED, 30.0 + window.off_delay_s),
    ]


def test_what_a_card_leaves_out_stays_as_the_settings_say() -> None:
    given = Fittings(job=Job(2.0, 0.5, 6.0), steps=(CLEAN, JobStep("strip", (6.0, 12.0))))
    facts = RunFacts("bench-1", "", limit_amps=10.0)
    vigil = Vigil(facts, fittings=given)
    vigil.take_card(JobCard(step="clean", micrometres=0.3))
    assert vigil.fittings.job == Job(2.0, 0.3, 2.0)
    vigil.take_card(JobCard())
    assert vigil.fittings.job == Job(2.0, 0.5, 6.0)
