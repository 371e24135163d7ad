"""The limits in force are part of the run, and so is every change of one."""

import json
from dataclasses import replace

from monitor.alarms.catalogue import KINDS
from monitor.model.event import SettingChange
from monitor.model.offered import steps_offered
from monitor.model.run import RunFacts
from monitor.model.step import USUAL_STEPS, JobStep
from monitor.recorder.in_force import as_settings, changes, in_force
from monitor.recorder.plan import SupplyPlan

PLAN = SupplyPlan(RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", limit_amps=10.0))


def test_every_alarm_has_its_delays_in_the_run() -> None:
    found = in_force(PLAN, ["phone"])
    for kind in KINDS:
        assert found[f"alarms.{kind.name}.on_delay_s"] == kind.on_delay_s
        assert found[f"alarms.{kind.name}.priority"] == kind.priority.value
    assert found["limit_amps"] == 10.0
    assert found["notices"] == "phone"


def test_no_data_is_never_sooner_than_three_polls_and_the_run_says_so() -> None:
    slow = replace(PLAN, facts=replace(PLAN.facts, poll_s=3.0))
    assert in_force(slow, [])["no_data_after_s"] == 9.0


def test_a_screen_reads_the_steps_out_of_the_run() -> None:
    steps = (JobStep("dip"), JobStep("strip", (5.0, 9.0), (0.0, 8.0), (1.0, 20.0), (15.0, 40.0)))
    plan = replace(PLAN, fittings=replace(PLAN.fittings, steps=steps))
    assert steps_offered(as_settings(in_force(plan, []), "{}")) == steps
    assert steps_offered(as_settings(in_force(PLAN, []), "{}")) == USUAL_STEPS


def test_a_change_is_kept_with_its_moment_and_both_values() -> None:
    settings = as_settings(in_force(PLAN, []), "{}")
    later = in_force(replace(PLAN, no_data_after_s=8.0), [])
    assert changes(settings, [], later, 7, 9) == [
        SettingChange(7, 9, "no_data_after_s", "5.0", "8.0")
    ]


def test_what_changed_before_is_what_counts() -> None:
    settings = as_settings(in_force(PLAN, []), "{}")
    later = in_force(replace(PLAN, no_data_after_s=8.0), [])
    first = changes(settings, [], later, 7, 9)
    assert changes(settings, first, later, 70, 90) == []
    back = changes(settings, first, in_force(PLAN, []), 70, 90)
    assert [(one.before, one.after) for one in back] == [("8.0", "5.0")]


def test_the_settings_of_the_bench_are_kept_as_given() -> None:
    kept = json.loads(as_settings(in_force(PLAN, []), '{"supplies":{}}'))
    assert kept["bench"] == {"supplies": {}}


def test_a_run_of_an_older_program_has_no_change() -> None:
    assert changes("{}", [], in_force(PLAN, []), 0, 0) == []
