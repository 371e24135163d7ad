"""Nothing that a recorder opens for a supply that hangs up stays open; nor for anybody else."""

from pathlib import Path

import pytest

from monitor.model.sample import Sample
from monitor.store.reader import open_store
from tests.whole.hang_ups import hang_up_again_and_again


@pytest.mark.trial
def test_a_supply_that_hangs_up_on_every_caller_leaves_no_file_and_no_thread_open(
    tmp_path: Path,
) -> None:
    found = hang_up_again_and_again(tmp_path, calls=48)
    files, threads = zip(*found[2:], strict=True)
    half = len(files) // 2
    # A sound or a notice that is just being sent holds a few for a moment.
    assert min(files[half:]) <= min(files[:half]) + 1, files
    assert max(files) < 40, "the recorder may open no more here"
    assert max(threads[half:]) <= max(threads[:half]) + 1, threads
    with open_store(tmp_path / "runs.db") as opened:
        rows = list(opened.run(1).rows())
    assert [row.seq for row in rows] == list(range(len(rows)))
    assert any(isinstance(row, Sample) for row in rows), "between hang-ups it was read"
