"""Text of a stranger's store, settings or supply steers no terminal, whichever command shows it."""

import io
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from monitor.commands.process import Outlet
from monitor.model.run import EndReason, RunFacts
from monitor.store.writer import StoreWriter
from tests.clock import HandClock
from tests.monitor.store.bench import a_sample
from tests.whole.processes import in_process

EVIL = "\x1b[2J\x1b]52;c;ZXZpbA==\x07\x9b1A\u202egnihton\r"
"""Clear the screen, write the clipboard, move up (C1), turn the direction, begin the line anew."""
FORBIDDEN = set("\x1b\x07\x9b\u202e\r")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("evil") / "runs.db"
    facts = RunFacts(f"bench{EVIL}", f"scpi:/dev/x{EVIL}", 10.0, bath=f"tank{EVIL}")
    with StoreWriter(path) as writer:
        run = writer.begin_run(facts, clock=HandClock(), program=f"x{EVIL}").run
        writer.write([(run, a_sample(seq)) for seq in range(20)])
        writer.end_run(run, None, EndReason.STOPPED)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE runs SET ended_why = ?", (f"why{EVIL}",))
        connection.commit()
    return path


COMMANDS = [
    ("runs",),
    ("runs", "--json"),
    ("runs", "--alarms"),
    ("review", "1", "--text"),
    ("job", "1"),
    ("bath", "show"),
    ("bath", "show", "--json"),
    ("bath", "show", f"tank{EVIL}"),
    ("replay", "--run", "1"),
    ("replay", "--run", "1", "--json"),
    ("export", "1", "--to", "x.csv", "--preview"),
    ("check", "--json"),
]


@pytest.mark.parametrize(
    "words", COMMANDS, ids=lambda words: " ".join(words[:3]).partition(EVIL)[0]
)
def test_no_command_lets_it_through(
    store: Path, words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = in_process(*words, "--store", store)
    assert not FORBIDDEN & set(done.stdout + done.stderr), (done.stdout, done.stderr)


def test_nor_what_the_recorder_prints() -> None:
    out = io.StringIO()
    outlet = Outlet("test", out, str)
    outlet.put(f"bench{EVIL}")
    assert outlet.close() == 0
    assert not FORBIDDEN & set(out.getvalue())
    assert "<1B>[2J" in out.getvalue()
