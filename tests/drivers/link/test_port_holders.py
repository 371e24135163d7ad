"""Who holds a port, as /proc tells it."""

import fcntl
import os
from pathlib import Path

import pytest

from drivers.link.port_holders import Holder, port_holders


def process(proc: Path, pid: int, name: str, *files: Path) -> None:
    folder = proc / str(pid) / "fd"
    folder.mkdir(parents=True)
    (proc / str(pid) / "comm").write_text(f"{name}\n", encoding="utf-8")
    for number, file in enumerate(files):
        (folder / str(number)).symlink_to(file)


@pytest.fixture
def port(tmp_path: Path) -> Path:
    path = tmp_path / "port"
    path.touch()
    return path


def test_the_one_that_has_it_open_is_named(tmp_path: Path, port: Path) -> None:
    proc = tmp_path / "proc"
    process(proc, 7, "editor", tmp_path / "other")
    process(proc, 42, "ModemManager", tmp_path / "gone", port)
    process(proc, 43, "terminal")
    (proc / "self").mkdir()
    assert port_holders(str(port), proc) == (Holder(42, "ModemManager"),)


@pytest.mark.parametrize(
    ("name", "says"), [("ModemManager", "ModemManager"), ("brltty", "braille"), ("agetty", "login")]
)
def test_known_grabbers_come_with_a_hint(name: str, says: str) -> None:
    hint = Holder(1, name).hint
    assert hint is not None
    assert says in hint
    assert Holder(1, "python3").hint is None


def test_the_table_of_locks_shows_other_users_processes(tmp_path: Path, port: Path) -> None:
    """proc(5), /proc/locks: number, kind, ..., pid, major:minor:inode."""
    state = port.stat()
    where = f"{os.major(state.st_dev):02x}:{os.minor(state.st_dev):02x}:{state.st_ino}"
    proc = tmp_path / "proc"
    process(proc, 77, "recorder")
    locks = (
        f"1: FLOCK  ADVISORY  WRITE 77 {where} 0 EOF\n2: POSIX  ADVISORY  READ 5 00:00:1 0 EOF\n"
    )
    (proc / "locks").write_text(locks, encoding="ascii")
    assert port_holders(str(port), proc) == (Holder(77, "recorder"),)


def test_our_own_process_is_recognised(port: Path) -> None:
    with port.open() as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        holders = port_holders(str(port))
    assert [holder.is_ourselves for holder in holders] == [True]


def test_without_a_proc_or_a_port_nobody_is_found(tmp_path: Path, port: Path) -> None:
    assert port_holders(str(port), tmp_path / "none") == ()
    assert port_holders(str(tmp_path / "none")) == ()
