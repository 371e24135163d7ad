"""A stored run is watched again by the steps and cards that it had."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.alarms.catalogue import BY_NAME
from monitor.commands.main import run
from monitor.commands.replay import vigil_as_recorded
from monitor.model.alarm import AlarmName
from monitor.model.card import JobCard
from monitor.model.fittings import Fittings, Job, VoltsWindow
from monitor.model.run import RunFacts
from monitor.model.step import JobStep
from monitor.recorder.in_force import as_settings, in_force
from monitor.recorder.plan import SupplyPlan
from monitor.store.job_rows import JobBox
from tests.clock import HandClock
from tests.monitor.store.bench import FACTS, a_sample, a_store

STEPS = (JobStep("clean", (4.0, 8.0)), JobStep("strip", (5.0, 9.0), (0.0, 8.0)))


def with_steps(facts: RunFacts) -> RunFacts:
    plan = SupplyPlan(facts, fittings=Fittings(job=Job(2.0), steps=STEPS))
    return replace(facts, settings=as_settings(in_force(plan, []), "{}"))


def test_the_steps_of_the_day_are_in_force_again() -> None:
    vigil = vigil_as_recorded(with_steps(FACTS))
    assert vigil.fittings.window == VoltsWindow(5.0, 9.0)
    vigil.take_card(JobCard(step="clean"))
    assert vigil.fittings.window == VoltsWindow(4.0, 8.0)


def test_a_run_from_before_there_were_steps_keeps_its_window() -> None:
    found = {"fittings.window.lowest_volts": 3.0, "fittings.window.highest_volts": 5.0}
    facts = replace(FACTS, settings=json.dumps({"in_force": found}))
    assert vigil_as_recorded(facts).fittings.window == VoltsWindow(3.0, 5.0)


def test_replay_goes_by_the_cards_that_came_while_it_was_recorded(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, clock = tmp_path / "a.db", HandClock()
    with a_store(path, clock) as writer:
        number = writer.begin_run(with_steps(FACTS), clock=clock, program="bathvigil test").run
        # 4.5 V: too few for this strip, right for its cleaning.
        writer.write([(number, a_sample(seq, amps=2.0, volts=4.5)) for seq in range(300)])
        clock.pass_s(30.0)
        JobBox(path, clock).put_card(number, JobCard(step="clean"))
        writer.end_run(number, 60_000_000_000, "ended by the operator")
    assert run(["replay", "--run", str(number), "--store", str(path), "--json"]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    window = [
        (one["change"], round(one["t_s"]))
        for one in told
        if one.get("alarm") == AlarmName.OUTSIDE_VOLTAGE_WINDOW
    ]
    kind = BY_NAME[AlarmName.OUTSIDE_VOLTAGE_WINDOW]
    assert window == [("raised", kind.on_delay_s), ("returned", 30 + kind.off_delay_s)]


@pytest.mark.parametrize(
    "settings",
    [
        "rubbish",
        "[1]",
        "[" * 100_000,
        '{"in_force": 7, "bench": []}',
        '{"in_force": {"no_data_after_s": %s, "fittings.window.lowest_volts": "six"}}'
        % ("9" * 400),
    ],
    ids=["text", "list", "deep", "other types", "endless number"],
)
def test_a_strange_stores_settings_are_none(tmp_path: Path, settings: str) -> None:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        row = writer.begin_run(
            replace(FACTS, settings=settings), clock=HandClock(), program="bathvigil 0.1.0"
        )
        writer.write([(row.run, a_sample(seq)) for seq in range(20)])
        writer.end_run(row.run, None, "ended")
    for line in (
        ["replay", "--run", "1"],
        ["review", "1", "--text"],
        ["job", "1"],
        ["export", "1", "--to", str(tmp_path / "a.csv")],
    ):
        assert run([*line, "--store", str(path)]) == 0, line
