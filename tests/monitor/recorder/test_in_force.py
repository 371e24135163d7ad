"""The limits in force are part of the run, and so is every change of one."""

import json
from dataclasses import replace

from monitor.alarms.catalogue import KINDS
from monitor.model.event import SettingChange
from monitor.model.fittings import Conductor, Fittings, Job
from monitor.model.kept_settings import kept_fittings, kept_number
from monitor.model.leads import Leads
from monitor.model.run import RunFacts
from monitor.model.step import USUAL_STEPS, JobStep
from monitor.recorder.in_force import as_settings, changes, in_force
from monitor.recorder.plan import SupplyPlan

PLAN = SupplyPlan(RunFacts("bench-1", "scpi:tcp://127.0.0.1:1", limit_amps=10.0))


def test_every_alarm_has_its_delays_in_the_run() -> None:
    found = in_force(PLAN, ["phone"])
    for kind in KINDS:
        assert found.alarms[kind.name].on_delay_s == kind.on_delay_s
        assert found.alarms[kind.name].priority is kind.priority
    assert found.limit_amps == 10.0
    assert found.notices == "phone"


def test_no_data_is_never_sooner_than_three_polls_and_the_run_says_so() -> None:
    slow = replace(PLAN, facts=replace(PLAN.facts, poll_s=3.0))
    assert in_force(slow, []).no_data_after_s == 9.0


def test_a_screen_reads_the_steps_out_of_the_run() -> None:
    steps = (JobStep("dip"), JobStep("strip", (5.0, 9.0), (0.0, 8.0), (1.0, 20.0), (15.0, 40.0)))
    plan = replace(PLAN, fittings=replace(PLAN.fittings, steps=steps))
    assert kept_fittings(as_settings(in_force(plan, []), "{}")).steps == steps
    assert kept_fittings(as_settings(in_force(PLAN, []), "{}")).steps == USUAL_STEPS


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


EARLIER = {
    "limit_amps": 10.0,
    "limit_kind": "trips",
    "poll_s": 0.2,
    "timeout_s": 0.5,
    "horizon_s": 120.0,
    "no_data_after_s": 5.0,
    "bath_litres": None,
    "per_kelvin": 0.0175,
    "shelf_s": 600.0,
    "notices": "",
    "fittings.conductors.0.name": "sleeve",
    "fittings.conductors.0.rated_amps": 8.0,
    "fittings.conductors.0.time_constant_s": 90.0,
    "fittings.conductors.0.k": 1.05,
    "fittings.leads.awg": 12.0,
    "fittings.leads.metres": 4.0,
    "fittings.job.area_dm2": 1.6,
    "fittings.job.micrometres": None,
    "fittings.job.most_amps_per_dm2": 8.0,
    "fittings.window": None,
    "fittings.most_celsius": 43.0,
    "fittings.steps.0.name": "clean",
    "fittings.steps.0.volts": None,
    "fittings.steps.0.amps_per_dm2": None,
    "fittings.steps.0.minutes": None,
    "fittings.steps.0.celsius.0": 15.0,
    "fittings.steps.0.celsius.1": 43.0,
    "fittings.step.name": "clean",
}
"""Limits in force as an earlier program kept them: under dotted names."""
KEPT = Fittings(
    (Conductor("sleeve", 8.0, 90.0, 1.05),),
    Leads(12.0, 4.0),
    Job(1.6, None, 8.0),
    None,
    43.0,
    (JobStep("clean", celsius=(15.0, 43.0)),),
    JobStep("clean"),
)


def test_the_limits_that_an_earlier_program_kept_are_read() -> None:
    settings = json.dumps({"in_force": EARLIER, "bench": {}})
    assert kept_fittings(settings) == KEPT
    assert kept_number(settings, "in_force", "no_data_after_s") == 5.0


def test_a_run_of_an_earlier_program_goes_on_without_a_change_that_is_none() -> None:
    alarms = {
        f"alarms.{kind.name}.{name}": value
        for kind in KINDS
        for name, value in (
            ("priority", kind.priority.value),
            ("on_delay_s", kind.on_delay_s),
            ("off_delay_s", kind.off_delay_s),
            ("latched", kind.latched),
            ("out_of_service", None),
        )
    }
    settings = json.dumps({"in_force": EARLIER | alarms})
    now = replace(in_force(PLAN, []), fittings=KEPT)
    assert changes(settings, [], now, 0, 0) == []
    warmer = replace(now, fittings=replace(KEPT, most_celsius=45.0))
    assert changes(settings, [], warmer, 7, 9) == [
        SettingChange(7, 9, "fittings.most_celsius", "43.0", "45.0")
    ]
