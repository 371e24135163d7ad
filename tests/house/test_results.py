"""The one page of results is put together from the records that the benchmarks wrote."""

from collections import Counter
from pathlib import Path

import pytest

from benchmarks import forecast
from benchmarks.finish import Score
from benchmarks.finish import figures_of as of_finish
from benchmarks.page import Figure, figures_of, write
from benchmarks.results import BENCHES, HERE, Bench, whole_page
from benchmarks.score.row import Row
from tests.whole.bath_findings import Findings
from tests.whole.bath_findings import figures_of as of_bath

KEPT = [bench for bench in BENCHES if bench.path.exists()]


@pytest.mark.parametrize("bench", KEPT, ids=lambda bench: bench.name)
def test_every_page_that_is_kept_has_figures_beside_it(bench: Bench) -> None:
    figures = figures_of(bench.path)
    assert figures
    assert all(figure.what and figure.measured for figure in figures)


@pytest.mark.parametrize("bench", KEPT, ids=lambda bench: bench.name)
def test_every_benchmark_is_a_target_of_make(bench: Bench) -> None:
    makefile = (HERE.parent / "Makefile").read_text(encoding="utf-8")
    assert f"\n{bench.target}:" in makefile


def test_every_page_of_a_benchmark_is_known_to_the_page_of_results() -> None:
    # Attacks are tests; what they did before they were mended is kept by hand.
    known = {bench.page for bench in BENCHES} | {"RESULTS.md", "ATTACK.md"}
    assert {path.name for path in HERE.glob("*.md")} <= known


def test_a_goal_that_is_missed_stands_at_the_top() -> None:
    page = whole_page({})
    figures = [figure for bench in KEPT for figure in figures_of(bench.path)]
    missed = [figure.what for figure in figures if figure.is_met is False]
    head = page.partition("\n## Forecast")[0]
    for what in missed:
        assert what in head
    assert f"{len(missed)} not met." in head


def test_figures_come_back_from_the_record_of_a_page(tmp_path: Path) -> None:
    figures = [Figure("a", "1", "2", True, "c"), Figure("b", "5", "4", False), Figure("c", "6")]
    assert figures_of(tmp_path / "A.md") == []
    assert write(tmp_path / "A.md", "A", "make a", figures, "Below.") == 1
    assert figures_of(tmp_path / "A.md") == figures
    assert write(tmp_path / "A.md", "A", "make a", figures[:1]) == 0
    assert figures_of(tmp_path / "A.md") == figures[:1]


def row(useful: int, false_raises: int, error_60: float, asked: int, held: int) -> Row:
    return Row(10, 10, useful, 40.0, false_raises, 120.0, {60.0: error_60}, asked, held, {})


def test_the_forecast_is_held_to_its_goals_beside_the_oracle() -> None:
    figures = forecast.figures_of(
        {
            forecast.PRODUCT: row(9, 1, 0.20, 100, 89),
            "guess": row(1, 9, 0.5, 0, 0),
            forecast.ORACLE: row(10, 0, 0.14, 0, 0),
        }
    )
    named = {figure.what.partition(",")[0]: figure for figure in figures}
    assert [named[name].is_met for name in ("useful", "false raises", "error 60 s")] == [
        False, False, True,
    ]  # fmt: skip
    assert named["range holds"].is_met is False
    assert named["useful"].against == "oracle 10 (100%); guess 1 (10%)"
    assert named["false raises"].measured == "1 in 40.0 h"


def test_what_must_be_nothing_is_missed_where_it_is_something() -> None:
    clean = Findings(faults=Counter(mute=3))
    assert all(figure.is_met is not False for figure in of_bath(clean, 10.0))
    clean.wrong.append("a value of another poll")
    clean.silent.append("cut out at 3 s, and nothing sounded")
    missed = [figure.what for figure in of_bath(clean, 10.0) if figure.is_met is False]
    assert missed == ["wrong values", "seconds cut out, of which silent"]


def test_the_end_of_a_strip_is_shown_beside_the_other_methods() -> None:
    ours, theirs = Score(ends=4, in_time=3, early=0), Score(others=2, hours=1.5)
    (figure,) = of_finish({"stable": {"bathvigil": ours, "chart": theirs}})
    assert (figure.what, figure.measured) == ("bathvigil, stable", "3 of 4 in time, 0 early")
    assert figure.against == "chart 2 in 1.5 h told where nothing ends"
