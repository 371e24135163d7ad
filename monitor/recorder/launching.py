"""Starts a recorder as a process of its own, with its messages in a log beside the store.

It outlives the terminal that started it.
"""

import os
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from drivers.base.clock import SystemClock
from monitor.base.errors import BathvigilError, StoreError
from monitor.base.own_file import own_opener
from monitor.base.program import last_complaint, own_command
from monitor.recorder.lock import holder
from monitor.store.reader import open_store

START_WITHIN_S = 15.0
LOOK_EVERY_S = 0.05
LOG_BYTES = 1_000_000
"""A log longer than this is begun anew; the one before is kept beside it."""


@dataclass(frozen=True, slots=True)
class Launched:
    """A recorder that runs: its process, and the runs that it records."""

    process: "subprocess.Popen[bytes]"
    runs: tuple[int, ...]


def log_path(store: Path) -> Path:
    """Where a launched recorder of this store puts what it has to say."""
    return store.with_name(store.name + ".log")


def runs_going_on(store: Path, pid: int) -> tuple[int, ...]:
    """Runs that the recorder of this process records; empty where there is no store yet."""
    if not store.exists():
        return ()
    try:
        with open_store(store) as opened:
            going_on = [row.run for row in opened.runs() if row.ended_utc_ns is None]
            return tuple(run for run in going_on if opened.run(run).segments()[-1].pid == pid)
    except StoreError:
        # It is being made just now.
        return ()


def launch_recorder(store: Path, arguments: Sequence[str]) -> Launched:
    """Start `bathvigil record` for a store and wait until its runs have begun.

    Raises
    ------
    BathvigilError
        With the recorder's own words, where it ends at once or does not begin.
    """
    log = log_path(store)
    store.parent.mkdir(parents=True, exist_ok=True)
    if log.exists() and log.stat().st_size > LOG_BYTES:
        log.replace(log.with_name(log.name + ".before"))
    began_at = log.stat().st_size if log.exists() else 0
    line = own_command("bathvigil", "record", "--store", str(store))
    with open(log, "ab", opener=own_opener) as output:
        process = subprocess.Popen(
            [*line, *arguments],
            stdin=subprocess.DEVNULL,
            # Its data lie in the store; only its talk goes to the log, which stays small.
            stdout=subprocess.DEVNULL,
            stderr=output,
            start_new_session=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
    clock = SystemClock()
    give_up_ns = clock.monotonic_ns() + round(START_WITHIN_S * 1e9)
    while clock.monotonic_ns() < give_up_ns:
        if process.poll() is not None:
            raise BathvigilError(_last_words(log, began_at))
        if holder(store) == process.pid:
            runs = runs_going_on(store, process.pid)
            if runs:
                return Launched(process, runs)
        clock.wait(LOOK_EVERY_S)
    raise BathvigilError(f"the recorder did not start within {START_WITHIN_S:.0f} s; see {log}")


def _last_words(log: Path, began_at: int) -> str:
    with log.open("rb") as words:
        words.seek(began_at)
        complaint = last_complaint(words.read().decode("utf-8", "replace"))
    return complaint or f"the recorder ended without a message; see {log}"
