"""The one page of results is put together from whatever the benchmarks wrote."""

import pytest

from benchmarks.page import Figure, table
from benchmarks.results import BENCHES, HERE, Bench, figures_of, whole_page
from benchmarks.results_tables import alarms, bath_test, forecast, job, memory, plain, tables_of

KEPT = [one for one in BENCHES if (HERE / one.page).exists()]


@pytest.mark.parametrize("bench", KEPT, ids=lambda one: one.name)
def test_every_page_that_is_kept_gives_figures(bench: Bench) -> None:
    figures = figures_of(bench)
    assert figures
    assert all(one.what and one.measured for one in figures)


@pytest.mark.parametrize("bench", KEPT, ids=lambda one: one.name)
def test_every_benchmark_is_a_target_of_make(bench: Bench) -> None:
    makefile = (HERE.parent / "Makefile").read_text(encoding="utf-8")
    assert f"\n{bench.target}:" in makefile


def test_every_page_of_a_benchmark_is_known_to_the_page_of_results() -> None:
    known = {one.page for one in BENCHES} | {"RESULTS.md", "MUTATION.md", "FUZZ.md"}
    assert {path.name for path in HERE.glob("*.md")} <= known


def test_a_goal_that_is_missed_stands_at_the_top() -> None:
    page = whole_page({})
    missed = [figure.what for one in KEPT for figure in figures_of(one) if figure.is_met is False]
    head = page.partition("\n## Forecast")[0]
    for what in missed:
        assert what in head
    assert f"{len(missed)} not met." in head


def test_goals_are_read_from_whatever_column_says_them() -> None:
    pages = (
        "| figure | measured | goal | |\n| --- | --- | --- | --- |\n| a | 3 | < 4 | met |\n",
        "| what | measured | goal | kept |\n| --- | --- | --- | --- |\n| a | 3 | < 4 | yes |\n",
        "| figure | measured | goal |\n| --- | --- | --- |\n| a | 3 | < 4: met |\n",
    )
    for page in pages:
        assert list(plain(page)) == [Figure("a", "3", "< 4", True)]
    missed = "| what | measured | goal | kept |\n| --- | --- | --- | --- |\n| a | 5 | < 4 | NO |\n"
    assert next(plain(missed)).is_met is False


def test_our_own_tables_are_read_back() -> None:
    figures = [Figure("a", "1", "2", True, "c"), Figure("b", "5", "4", False), Figure("c", "6")]
    assert list(plain(table(figures))) == figures


def test_the_forecast_is_held_to_its_goals_beside_the_oracle() -> None:
    head = "| method | runs | useful | quiet hours | false raises | error 60 s | range holds |"
    page = (
        f"{head}\n| --- | --- | --- | --- | --- | --- | --- |\n"
        "| bathvigil | 10 | 9 (96%) | 40.0 | 1 | 0.20 | 89% |\n"
        "| guess | 10 | 1 (10%) | 40.0 | 9 | none | - |\n"
        "| oracle | 10 | 10 (100%) | 40.0 | 0 | 0.14 | - |\n"
    )
    told = {one.what.partition(",")[0]: one for one in forecast(page)}
    assert [told[name].is_met for name in ("useful", "false raises", "error 60 s")] == [
        False, False, True,
    ]  # fmt: skip
    assert told["range holds"].is_met is False
    assert told["useful"].against == "oracle 10 (100%); guess 1 (10%)"


def test_what_must_be_nothing_is_missed_where_it_is_something() -> None:
    page = (
        "| what | figure |\n| --- | --- |\n| wrong values | 1 |\n"
        "| seconds cut out, of which silent | 108, 2 |\n"
        "| bytes sent; messages that were no question | 15; 0 |\n"
    )
    assert [one.is_met for one in bath_test(page)] == [False, False, True]
    slow = (
        "| in the way | trips | median, ms | 99 %, ms |\n| --- | --- | --- | --- |\n"
        "| nothing | 9 | 3.0 | 151.0 |\n"
    )
    assert [one.is_met for one in alarms(slow)] == [False]
    assert next(memory("Growth after warm-up: 1.2 MB per 100,000 samples")).is_met is False
    advice = "| what | found | goal |\n| --- | --- | --- |\n| error | 6.3% | 5% |\n"
    assert next(job(advice)).is_met is False


def test_a_table_needs_a_head_and_a_row() -> None:
    assert tables_of("| only | a head |\n| --- | --- |\n") == []
