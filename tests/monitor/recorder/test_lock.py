"""One recorder a store: a lock of the kernel's, never a number in a file."""

import os
from pathlib import Path

import pytest

from monitor.recorder.lock import StoreTaken, holder, lock_path, store_lock


def test_a_lock_is_held_as_long_as_its_context_and_names_its_process(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with store_lock(store):
        assert holder(store) == os.getpid()
        with (
            pytest.raises(StoreTaken, match=f"process {os.getpid()}.*runs.db.*--store"),
            store_lock(store),
        ):
            raise AssertionError("two recorders")
    assert holder(store) is None


@pytest.mark.parametrize("pid", [1, os.getpid(), 2**31], ids=["the first", "our own", "none"])
def test_a_number_left_by_a_power_cut_holds_nobody_up_whoever_has_it_now(
    tmp_path: Path, pid: int
) -> None:
    store = tmp_path / "runs.db"
    # After the machine's start another process may have the number of the dead recorder.
    lock_path(store).write_text(f"{pid:>20}")
    assert holder(store) is None
    with store_lock(store):
        assert lock_path(store).read_text() == str(os.getpid())
