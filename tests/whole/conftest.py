"""No process outlives the test that started it, however the test ended.

A recorder that is left behind asks its port for ever; the system soon gives the number of its
pseudo-terminal to another test.
"""

import os
import signal
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from monitor.recorder.lock import holder
from tests.whole.processes import STARTED


def end_what_is_left(since: int, folder: Path) -> None:
    """Kill what `start` began, from a place of its list on, and what records below a folder."""
    for process in STARTED[since:]:
        if process.poll() is None:
            process.kill()
            process.communicate()
    del STARTED[since:]
    for store in folder.rglob("*.db"):
        recorder = holder(store)
        if recorder not in (None, os.getpid()):
            with suppress(ProcessLookupError):
                os.kill(recorder, signal.SIGKILL)


@pytest.fixture(autouse=True)
def _ends_with_its_test(tmp_path: Path) -> Iterator[None]:
    since = len(STARTED)
    yield
    end_what_is_left(since, tmp_path)


@pytest.fixture(autouse=True, scope="module")
def _ends_with_its_file(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    since = len(STARTED)
    yield
    end_what_is_left(since, tmp_path_factory.getbasetemp())
