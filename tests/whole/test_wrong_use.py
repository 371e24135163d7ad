"""Bad input gets one clear line with the cure, an exit code, and never a traceback."""

import os
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from monitor.commands.main import run
from tests.monitor.store.bench import a_run, a_store
from tests.whole.processes import bathvigil, in_process, simulator, start, wait_until


def told_in_one_line(done: "subprocess.CompletedProcess[str]", *words: str) -> None:
    assert "Traceback" not in done.stderr
    lines = [line for line in done.stderr.splitlines() if line.strip()]
    assert len(lines) == 1, done.stderr
    for word in words:
        assert word in lines[0]


def test_no_such_port(tmp_path: Path) -> None:
    done = bathvigil(
        "record", "scpi:/dev/ttyNONE7", "--limit-amps", "10", "--store", tmp_path / "a.db"
    )
    assert done.returncode == 1
    told_in_one_line(done, "/dev/ttyNONE7")
    assert not (tmp_path / "a.db").exists(), "nothing was begun"


def test_nobody_at_the_address(tmp_path: Path) -> None:
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        address = f"scpi:tcp://127.0.0.1:{unused.getsockname()[1]}"
    done = bathvigil("record", address, "--limit-amps", "10", "--store", tmp_path / "a.db")
    assert done.returncode == 1
    told_in_one_line(done, "127.0.0.1")


def test_a_supply_that_is_switched_off(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"scpi:tcp://127.0.0.1:{silent.getsockname()[1]}"
        done = bathvigil("record", address, "--limit-amps", "10", "--store", tmp_path / "a.db")
    assert done.returncode == 1
    told_in_one_line(done, "*IDN?", "--keep-trying")


def test_the_port_is_busy_and_the_thief_is_named(tmp_path: Path) -> None:
    with simulator("quiet-strip", "scpi-serial", 1.0) as (address, _):
        first = start("record", address, "--limit-amps", "10", "--store", tmp_path / "a.db")
        wait_until("the first recorder", lambda: (tmp_path / "a.db").exists() or None)
        done = bathvigil("record", address, "--limit-amps", "10", "--store", tmp_path / "b.db")
        first.terminate()
        first.communicate(timeout=20)
    assert done.returncode == 1
    told_in_one_line(done, str(first.pid))


@contextmanager
def without_rights() -> Iterator[None]:
    """As a user who owns nothing, where the tests run as root."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_no_permission_names_the_cure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    master, slave = os.openpty()
    path = os.ttyname(slave)
    os.chmod(path, 0o000)  # noqa: PTH101 - a device's rights
    open_any = os.open

    def open_port(name: str, *rest: int, **more: int) -> int:
        # The port alone: that user might not even be let to this file.
        if name != path:
            return open_any(name, *rest, **more)
        with without_rights():
            return open_any(name, *rest, **more)

    monkeypatch.setattr(os, "open", open_port)
    store = str(tmp_path / "a.db")
    try:
        assert run(["record", f"scpi:{path}", "--limit-amps", "10", "--store", store]) == 1
    finally:
        os.close(slave)
        os.close(master)
    told = capsys.readouterr().err
    assert path in told
    assert "group" in told or "permission" in told
    assert "Traceback" not in told


def test_a_misspelt_setting_is_named_with_its_line(tmp_path: Path) -> None:
    config = tmp_path / "bench.toml"
    config.write_text(
        '[supplies.bench-1]\naddress = "scpi:tcp://127.0.0.1:5025"\nlimit_amp = 10.0\n'
    )
    done = bathvigil("record", "--config", config, "--store", tmp_path / "a.db")
    assert done.returncode == 2
    told_in_one_line(done, "bench.toml", "limit_amp", "limit_amps", "3")


def test_a_table_without_its_columns(tmp_path: Path) -> None:
    table = tmp_path / "run.csv"
    table.write_text("time,volts,current\n0,9,8\n")
    done = in_process("replay", table, "--limit-amps", "10", "--json")
    assert done.returncode == 2
    told_in_one_line(done, "run.csv", "amps")
    assert done.stdout == ""


def test_a_run_that_does_not_exist(tmp_path: Path) -> None:
    store = tmp_path / "a.db"
    with a_store(store) as writer:
        a_run(writer)
    for line in (["review", "7"], ["export", "7", "--to", str(tmp_path / "x.csv")]):
        done = in_process(*line, "--store", store)
        assert done.returncode == 1
        told_in_one_line(done, "7", "run 1")
    assert not (tmp_path / "x.csv").exists()


def test_a_store_from_a_newer_version(tmp_path: Path) -> None:
    store = tmp_path / "a.db"
    with a_store(store) as writer:
        a_run(writer)
    with closing(sqlite3.connect(store)) as connection:
        connection.execute("PRAGMA user_version = 999")
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        line = ("record", address, "--limit-amps", "10", "--store", store, "--for-s", "1")
        for done in (bathvigil(*line), in_process("runs", "--store", store)):
            assert done.returncode == 1
            told_in_one_line(done, "newer", "999")


def test_watching_without_a_terminal_says_what_to_use_instead(tmp_path: Path) -> None:
    done = bathvigil("watch", "scpi:tcp://127.0.0.1:1", "--limit-amps", "10")
    assert done.returncode == 1
    told_in_one_line(done, "terminal", "record")


def test_the_simulator_refuses_what_it_does_not_know() -> None:
    done = bathvigil("simulate", "--scene", "quiet-stripp", "--link", "scpi-tcp")
    assert done.returncode == 2
    told_in_one_line(done, "quiet-strip")


def test_help_is_one_page_even_without_any_set_up() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bathvigil", "--help"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) < 40
