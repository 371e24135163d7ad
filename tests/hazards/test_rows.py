"""Each deviation at the bench, a few draws of it: what must be said is said, and nothing wrong.

`python -m benchmarks.hazards --row A14` plays fifty draws of one row and prints what was said.
"""

import pytest

from benchmarks.hazards.rows import ROWS
from benchmarks.hazards.run import play
from tests.hazards.not_yet import NOT_YET

DRAWS = 4


def rows() -> list[object]:
    """Every row, with the mark of those that are not told yet."""
    mark = pytest.mark.xfail(strict=True, reason="not yet told")
    return [pytest.param(row, marks=mark if row in NOT_YET else ()) for row in ROWS]


@pytest.mark.parametrize("row", rows())
def test_a_deviation_is_told_right(row: str) -> None:
    for number in range(DRAWS):
        outcome = play(row, number)
        said = "\n".join(one.line for one in outcome.said)
        assert not outcome.faults, f"draw {number}: {outcome.faults}\n{said}"


def test_the_list_of_rows_that_are_not_told_names_rows() -> None:
    assert set(ROWS) >= NOT_YET
