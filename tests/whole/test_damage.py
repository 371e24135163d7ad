"""A store that a power failure cut, or a bad card spoilt, costs no more than what is spoilt."""

from collections.abc import Callable

import pytest

from tests.whole.damage import Outcomes, cut_logs, turned_logs, turned_stores


@pytest.mark.parametrize("spoil", [cut_logs, turned_logs, turned_stores])
def test_what_was_whole_is_there_and_what_was_not_is_told(
    spoil: Callable[[int, int], Outcomes],
) -> None:
    found = spoil(25, 7)
    assert found.wrong == []
    assert found.counts.total() == 25
