"""The score on runs that are told by hand."""

import math

import pytest

from benchmarks.score.row import row_of
from benchmarks.score.run_score import RunScore, Scoring
from benchmarks.score.table import distances, table, untold


def score(trip_s: float | None, raised: tuple[float, float], seconds: float = 1000.0) -> RunScore:
    """A warning that stands from the one time to the other."""
    scoring = Scoring(trip_s)
    for second in range(int(trip_s or seconds)):
        scoring.take(float(second), raised[0] <= second < raised[1])
    return scoring.end(trip_s or seconds)


@pytest.mark.parametrize(
    ("raised", "is_useful"),
    [
        ((970.0, 2000.0), True),
        ((971.0, 2000.0), False),
        ((400.0, 2000.0), True),
        ((399.0, 2000.0), False),
        ((800.0, 990.0), False),
        ((2000.0, 2000.0), False),
    ],
    ids=["30 s", "29 s", "600 s", "601 s", "returned before the trip", "never raised"],
)
def test_a_warning_is_useful_if_it_stands_and_came_in_time(
    raised: tuple[float, float], is_useful: bool
) -> None:
    assert score(1000.0, raised).is_useful is is_useful


def test_a_warning_in_a_run_without_a_trip_is_false_and_never_useful() -> None:
    quiet = score(None, (500.0, 600.0), seconds=3600.0)
    row = row_of([(quiet, False)])
    assert (row.false_raises, row.quiet_hours, row.useful_share) == (1, 1.0, None)


def test_a_short_counts_neither_as_missed_nor_as_quiet() -> None:
    row = row_of([(score(500.0, (2000.0, 2000.0)), False)])
    assert (row.slow_trips, row.useful, row.quiet_hours, row.false_raises) == (0, 0, 0.0, 0)


def test_no_time_told_is_worse_than_any_wrong_one() -> None:
    scoring = Scoring(400.0)
    for second in range(400):
        scoring.take(float(second), False, 90.0 if second < 300 else None)
    assert scoring.end(400.0).errors == {
        300.0: pytest.approx(0.7),
        120.0: pytest.approx(0.25),
        60.0: math.inf,
    }


def test_a_range_without_an_upper_end_holds_all_that_is_late_enough() -> None:
    scoring = Scoring(100.0)
    scoring.take(0.0, False, 50.0, 40.0, None)
    scoring.take(20.0, False, 95.0, 90.0, None)
    ended = scoring.end(100.0)
    assert (ended.asked, ended.held) == (2, 1)


def test_a_table_says_what_is_not_known() -> None:
    row = row_of([(score(1000.0, (900.0, 2000.0)), True)])
    text = table("family", {"tank": row})
    assert text.splitlines()[2] == (
        "| tank | 1 | 1 | 1 (100%) | 0.0 | - | 100 | none | none | none | - |"
    )
    assert "none / none" in distances({"tank": row}, {"tank": row})


def test_trips_of_which_no_time_was_told_are_counted() -> None:
    told = RunScore(600.0, 600.0, errors={300.0: math.inf, 120.0: 0.5, 60.0: math.inf})
    short_run = RunScore(100.0, 100.0, errors={60.0: 0.1})
    text = untold({"tank": row_of([(told, True), (short_run, True)]), "quiet": row_of([])})
    assert text.splitlines()[2:] == ["| tank | 2 | 1 | 0 | 1 |"]
