"""SIGKILL at random points: nothing committed is lost, nothing doubled, alarms as they were."""

from pathlib import Path

import pytest

from tests.whole.kill_loop import held, kill_again_and_again


@pytest.mark.trial
def test_twelve_kills_lose_and_double_nothing_and_forget_no_alarm(tmp_path: Path) -> None:
    assert [wrong for wrong in kill_again_and_again(tmp_path, 12, seed=7) if wrong] == []
    assert "no-data" in {name for name, _, _ in held(tmp_path / "runs.db").standing}
