"""The live screen tells how far the strip is, with its bounds and the time to the likely finish."""

from dataclasses import replace
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.baths.bath_view import view_of
from monitor.baths.run_charge import bath_efficiency
from monitor.model.card import JobCard
from monitor.model.charge_need import ChargeNeed
from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.model.event import SettingChange
from monitor.model.faraday import amp_hours_to_strip
from monitor.model.outcome import Gone, Outcome
from monitor.model.sample import Sample
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from monitor.text.progress import progress_line
from tests.tui import pictures
from tui.glyphs import ASCII
from tui.look import StoreSource
from tui.panels.notes import reason_lines
from tui.view import Window

BELL = JobCard("north tank", "strip", None, "bell", 1.6, 0.3)
NEED = ChargeNeed(0.1067, 0.55, 0.49, 0.62)


def text_of_reasons(need: ChargeNeed | None, amp_hours: float) -> str:
    moment = pictures.steady(120, ASCII)
    view = moment.view
    assert view is not None
    assert view.estimate is not None
    told = view.estimate._replace(charge=Charge(amp_hours, amp_hours, amp_hours, 1.0))
    moment = replace(moment, view=replace(view, estimate=told, need=need))
    lines = ("".join(text for text, _ in line) for line in reason_lines(moment, 58))
    return " ".join(" ".join(lines).split())


def test_the_share_the_bounds_and_the_time_left_stand_under_the_charge() -> None:
    told = text_of_reasons(NEED, 0.2)
    assert "36 % of likely 0.55 Ah (0.49 to 0.62, Faraday 0.11)" in told
    assert "min left (" in told
    assert "likely" not in text_of_reasons(None, 0.2)


@pytest.mark.parametrize(
    ("amp_hours", "amps", "says"),
    [
        # 0.35 Ah at 5 A take 4.2 minutes (charge over current).
        (0.2, 5.0, "; 4.2 min left (3.5 to 5)"),
        (0.56, 5.0, "check whether it is done; 0.72 min at the latest"),
        (0.7, 5.0, "longer than any similar job"),
        (0.2, 0.0, "Faraday 0.11)"),
        (0.2, None, "Faraday 0.11)"),
    ],
)
def test_the_time_left_is_charge_over_current(
    amp_hours: float, amps: float | None, says: str
) -> None:
    told = progress_line(NEED, Charge(amp_hours), amps)
    assert says in told
    assert ("left" in told) is (says.startswith("; 4.2"))


def test_without_finished_runs_the_least_alone_is_told_as_a_bound() -> None:
    told = progress_line(ChargeNeed(0.1067), Charge(0.2), 5.0)
    assert told == "0.20 Ah; Faraday's guide: 0.11 Ah; what this bath needs is not known yet"


def a_run(path: Path, writer: StoreWriter, amp_hours: float, card: JobCard | None) -> int:
    facts = replace(pictures.FACTS, bath="north tank")
    run = writer.begin_run(facts, clock=SystemClock(), program="bathvigil test").run
    writer.write(
        [
            (run, Sample(0, 0, 1, 900, 6.8, 5.0)),
            (run, Estimate(0, 0, Forecast(), Charge(amp_hours, amp_hours, amp_hours))),
        ]
    )
    if card is not None:
        JobBox(path).put_card(run, card)
    return run


def test_what_the_bath_took_before_is_learned_from_its_finished_runs(tmp_path: Path) -> None:
    path, least = tmp_path / "a.db", amp_hours_to_strip(1.6, 0.3)
    with StoreWriter(path) as writer:
        for bath, gone, taken in (
            ("north tank", True, 4.0),
            ("north tank", True, 4.2),
            ("north tank", False, 9.0),
            ("swab pot", True, 9.0),
        ):
            run = a_run(path, writer, least * taken, replace(BELL, bath=bath))
            writer.end_run(run, 10, "ended by the operator")
            JobBox(path).put_outcome(run, Outcome(Gone.YES if gone else Gone.NO))
        run = a_run(path, writer, least, None)
        source = StoreSource(path, run)
        assert source.look(None).need is None
        JobBox(path).put_card(run, BELL)
        need = source.look(pictures.steady(80, ASCII).view.chart.window).need  # type: ignore[union-attr]  # a steady picture has a view
        source.close()
    assert need is not None
    assert need.least == pytest.approx(least)
    assert need.likely == pytest.approx(4.1 * least, rel=0.01)
    assert need.low is not None
    assert need.high is not None
    assert need.likely is not None
    assert need.least < need.low < need.likely < need.high


def test_what_an_earlier_step_took_counts_for_nothing(tmp_path: Path) -> None:
    path, least = tmp_path / "a.db", amp_hours_to_strip(1.6, 0.3)
    with StoreWriter(path) as writer:
        run = a_run(path, writer, 0.3, replace(BELL, step="clean"))
        source = StoreSource(path, run)
        source.look(None)
        JobBox(path).put_card(run, BELL)
        change = SettingChange(5_000_000_000, 1, "fittings.step.name", '"clean"', '"strip"')
        told = Estimate(50, 10_000_000_000, Forecast(), Charge(0.3 + 2.0 * least))
        writer.write([(run, change), (run, told)])
        writer.end_run(run, 10_000_000_000, "ended by the operator")
        JobBox(path).put_outcome(run, Outcome(Gone.YES))
        need = source.look(Window(0.0, 10.0, 10)).need
        source.close()
        with open_store(path) as store:
            efficiency = bath_efficiency(store, "north tank", run + 1)
    assert need is not None
    assert need.before == pytest.approx(0.3)
    assert need.passed(0.3 + 2.0 * least) == pytest.approx(2.0 * least, rel=1e-4)
    assert efficiency is not None
    assert efficiency.share == pytest.approx(0.5, rel=1e-4)
    assert view_of(path, "north tank").efficiency == efficiency
