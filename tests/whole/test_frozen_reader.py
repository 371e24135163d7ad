"""A reader that stops reading: `record` goes on polling, storing and ending in time."""

import os
import pty
import signal
import subprocess
import termios
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from monitor.base.errors import StoreError
from monitor.store.reader import open_store
from tests.whole.processes import PATIENCE_S, STARTED, command_line, simulator, wait_until

Readers = Callable[[], tuple[int, int]]


def full_pipe() -> tuple[int, int]:
    """The reader's end and the writer's end of a pipe that takes one page and no more."""
    import fcntl

    reader, writer = os.pipe()
    fcntl.fcntl(writer, fcntl.F_SETPIPE_SZ, 4096)
    os.write(writer, b"x" * 4096)
    return reader, writer


def stopped_terminal() -> tuple[int, int]:
    """A terminal on which somebody has typed Ctrl-S."""
    reader, writer = pty.openpty()
    termios.tcflow(writer, termios.TCOOFF)
    return reader, writer


@contextmanager
def recording_unread(
    store: Path, reader: Readers, streams: str, *more: str
) -> Iterator["subprocess.Popen[str]"]:
    ours, its = reader()
    with simulator("quiet-strip", "scpi-tcp", 5.0) as (address, _):
        line = command_line("record", address, "--limit-amps", "10", "--json", "--store", store)
        process = subprocess.Popen(
            [*line, "--clock-speed", "5", "--poll-s", "0.1", *more],
            stdin=subprocess.DEVNULL,
            stdout=its if "stdout" in streams else subprocess.DEVNULL,
            stderr=its if "stderr" in streams else subprocess.DEVNULL,
            text=True,
            start_new_session=True,
        )
        STARTED.append(process)
        os.close(its)
        try:
            yield process
        finally:
            process.kill()
            process.wait(PATIENCE_S)
            os.close(ours)


def rows(store: Path) -> int:
    try:
        with open_store(store) as opened:
            last = opened.run(1).last() if opened.runs() else None
    except StoreError:  # not made yet
        return 0
    return 0 if last is None else last.seq


@pytest.mark.parametrize("reader", [full_pipe, stopped_terminal])
@pytest.mark.parametrize("streams", ["stdout", "stdout and stderr"])
def test_a_reader_that_stops_costs_no_row_and_sigterm_ends_the_run(
    tmp_path: Path, reader: Readers, streams: str
) -> None:
    store = tmp_path / "runs.db"
    with recording_unread(store, reader, streams) as process:
        wait_until("rows", lambda: rows(store) > 60)
        process.send_signal(signal.SIGTERM)
        assert process.wait(PATIENCE_S) == 0
    with open_store(store) as opened:
        stored = opened.run(1)
        seqs = [row.seq for row in stored.rows()]
        assert seqs == list(range(len(seqs)))
        assert stored.row.ended_why == "stopped"


def test_for_s_ends_in_time_though_nobody_reads(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with recording_unread(store, full_pipe, "stdout and stderr", "--for-s", "10") as process:
        assert process.wait(PATIENCE_S) == 0


def test_a_failure_at_the_start_ends_the_program_though_nobody_reads(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with recording_unread(store, full_pipe, "stderr", "--poll-s", "nan") as process:
        assert process.wait(PATIENCE_S) == 2


@pytest.mark.parametrize("number", [signal.SIGTSTP, signal.SIGTTOU, signal.SIGTTIN])
def test_keys_of_a_terminal_do_not_stop_the_watch(tmp_path: Path, number: signal.Signals) -> None:
    store = tmp_path / "runs.db"
    with recording_unread(store, full_pipe, "stderr") as process:
        wait_until("rows", lambda: rows(store) > 5)
        process.send_signal(number)
        before = rows(store)
        wait_until("more rows", lambda: rows(store) > before + 20)
