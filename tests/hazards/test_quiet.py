"""Scenes in which nothing is wrong bring no alarm and no question to the operator."""

import pytest

from benchmarks.hazards.quiet import QUIET
from benchmarks.hazards.run import play_quiet


@pytest.mark.parametrize("number", range(2 * len(QUIET)))
def test_nothing_is_said_where_nothing_is_wrong(number: int) -> None:
    _, name, false = play_quiet(number)
    assert not false, f"{name}: {[one.line for one in false]}"
