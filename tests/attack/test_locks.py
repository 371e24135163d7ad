"""Two recorders, and other users, against the locks: no name leads around them."""

import errno
import os
import stat
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from drivers.address import parse_address
from monitor.base.errors import BathvigilError
from monitor.base.kernel_lock import CannotLock, held_lock, text_of_holder
from monitor.base.own_file import is_ours, own_folders
from monitor.recorder.lock import (
    StoreTaken,
    SupplyTaken,
    holder,
    lock_path,
    store_lock,
    supply_locks,
)
from monitor.recorder.sound.bells import BEL, lent_bells, ring
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter

NOT_WINDOWS = pytest.mark.skipif(sys.platform == "win32", reason="links and users of POSIX")
pytestmark = NOT_WINDOWS


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "session").mkdir(mode=0o700)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "session"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def other_name(store: Path, way: str) -> Path:
    """Another name of a store that is there."""
    folder = store.parent / "elsewhere"
    if way == "link to the folder":
        folder.symlink_to(store.parent)
        return folder / store.name
    folder.mkdir()
    if way == "symbolic link":
        (folder / "other.db").symlink_to(store)
    elif way == "hard link":
        (folder / "other.db").hardlink_to(store)
    else:
        return folder / ".." / store.name
    return folder / "other.db"


WAYS = ["symbolic link", "hard link", "link to the folder", "dots"]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("holds", ["first", "second"])
def test_a_store_has_one_recorder_by_whatever_name(tmp_path: Path, way: str, holds: str) -> None:
    store = tmp_path / "runs.db"
    StoreWriter(store).close()
    names = [store, other_name(store, way)]
    if holds == "second":
        names.reverse()
    with store_lock(names[0]), pytest.raises(StoreTaken), store_lock(names[1]):
        raise AssertionError("two recorders on one file")
    with store_lock(names[1]):
        pass


def test_a_hard_link_made_while_the_first_recorder_begins_is_refused(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with store_lock(store):
        StoreWriter(store).close()
        with pytest.raises(StoreTaken), store_lock(other_name(store, "hard link")):
            raise AssertionError("two recorders on one file")


def test_the_lock_of_the_file_disturbs_no_reader_and_no_writer(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with store_lock(store):
        StoreWriter(store).close()
        with open_store(store) as opened:
            assert list(opened.runs()) == []
        ended = subprocess.run(
            [
                sys.executable,
                "-c",
                f"import sqlite3; sqlite3.connect({str(store)!r}).execute('BEGIN EXCLUSIVE')",
            ],
            check=False,
        )
        assert ended.returncode == 0


def test_a_store_that_was_never_begun_leaves_no_empty_file(tmp_path: Path) -> None:
    with store_lock(tmp_path / "runs.db"):
        pass
    assert not (tmp_path / "runs.db").exists()


def test_the_lock_file_deleted_meanwhile_lets_nobody_in(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    StoreWriter(store).close()
    with store_lock(store):
        lock_path(store).unlink()
        with pytest.raises(StoreTaken), store_lock(store):
            raise AssertionError("two recorders on one file")


def test_who_may_only_read_the_store_keeps_no_recorder_away(tmp_path: Path) -> None:
    import fcntl
    import struct

    store = tmp_path / "runs.db"
    StoreWriter(store).close()
    with store.open("rb") as reader:
        whole = struct.pack("hhqqi0q", fcntl.F_RDLCK, os.SEEK_SET, 0, 0, 0)
        fcntl.fcntl(reader, fcntl.F_OFD_SETLK, whole)
        with store_lock(store):
            assert holder(store) == os.getpid()
    assert stat.S_IMODE(lock_path(store).stat().st_mode) == 0o600


SAME = [
    ("scpi:tcp://localhost:5025", "scpi:tcp://127.0.0.1:5025"),
    ("scpi:tcp://127.0.0.1:5025", "scpi:tcp://[::1]:5025"),
    ("scpi:tcp://127.1:5025", "scpi:tcp://LOCALHOST:5025"),
    ("scpi:tcp://[::ffff:10.0.0.7]:5025", "scpi:tcp://10.0.0.7:5025"),
    ("modbus:tcp://10.0.0.7:502", "modbus:tcp://10.0.0.7:502?unit=1"),
    ("modbus:tcp://10.0.0.7:502?unit=2", "modbus:tcp://10.0.0.7:502?unit=02&framing=tcp"),
]
APART = [
    ("scpi:tcp://127.0.0.1:5025", "scpi:tcp://127.0.0.1:5026"),
    ("modbus:tcp://10.0.0.7:502?unit=1", "modbus:tcp://10.0.0.7:502?unit=2"),
]


def locked(texts: Sequence[str], store: Path) -> bool:
    """Whether recorders of these addresses, one inside the other, are let in."""
    if not texts:
        return True
    try:
        with supply_locks([parse_address(texts[0])], store):
            return locked(texts[1:], store)
    except SupplyTaken:
        return False


@pytest.mark.parametrize("texts", SAME)
def test_a_supply_has_one_recorder_by_whatever_address(
    tmp_path: Path, texts: tuple[str, str]
) -> None:
    assert not locked(texts, tmp_path / "runs.db")
    assert not locked(texts[::-1], tmp_path / "runs.db")
    with (
        pytest.raises(BathvigilError, match="are one supply"),
        supply_locks([parse_address(text) for text in texts], tmp_path / "runs.db"),
    ):
        raise AssertionError("one supply, twice")
    assert not list(own_folders()[0].iterdir()), "lock files are left behind"


@pytest.mark.parametrize("texts", APART)
def test_other_supplies_are_let_in(tmp_path: Path, texts: tuple[str, str]) -> None:
    assert locked(texts, tmp_path / "runs.db")


def test_another_environment_leads_around_no_lock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = parse_address("scpi:tcp://127.0.0.1:5025")
    with supply_locks([address], tmp_path / "one.db"):
        for name, value in (("TMPDIR", str(tmp_path)), ("XDG_RUNTIME_DIR", "")):
            monkeypatch.setenv(name, value)
            with pytest.raises(SupplyTaken), supply_locks([address], tmp_path / "two.db"):
                raise AssertionError("two recorders")


def test_a_name_server_that_does_not_answer_keeps_nobody_from_watching(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import threading

    from monitor.recorder import lock

    thaw = threading.Event()
    monkeypatch.setattr(lock, "RESOLVE_WITHIN_S", 0.1)
    monkeypatch.setattr(lock, "getaddrinfo", lambda *_given, **_more: [thaw.wait(20)][1:])
    with supply_locks([parse_address("scpi:tcp://bench.invalid:5025")], tmp_path / "runs.db"):
        thaw.set()


@pytest.mark.parametrize("plant", ["link", "link to nothing", "folder", "pipe"])
def test_nothing_planted_as_a_lock_file_is_followed(tmp_path: Path, plant: str) -> None:
    precious = tmp_path / "precious"
    precious.write_text("mine")
    lock = tmp_path / "runs.db.recorder"
    match plant:
        case "link":
            lock.symlink_to(precious)
        case "link to nothing":
            lock.symlink_to(tmp_path / "made")
        case "folder":
            lock.mkdir()
        case _:
            os.mkfifo(lock)
    assert text_of_holder(lock) is None
    refusal = BathvigilError("taken")
    with (
        pytest.raises(CannotLock, match="choose another --store"),
        held_lock(lock, "4711", lambda _: refusal),
    ):
        raise AssertionError("followed")
    assert precious.read_text() == "mine"
    assert not (tmp_path / "made").exists()


def test_a_file_of_another_user_is_not_ours(tmp_path: Path) -> None:
    mine = tmp_path.stat()

    def owned_by(uid: int) -> os.stat_result:
        return os.stat_result((*mine[:4], uid, *mine[5:10]))

    assert is_ours(owned_by(os.geteuid()), tmp_path)
    assert is_ours(owned_by(0), tmp_path)
    assert not is_ours(owned_by(4711), tmp_path)


def test_a_runtime_folder_that_somebody_else_made_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "theirs").mkdir()
    (tmp_path / "session" / "bathvigil").symlink_to(tmp_path / "theirs")
    with supply_locks([parse_address("scpi:tcp://127.0.0.1:5025")], tmp_path / "runs.db"):
        assert not list((tmp_path / "theirs").iterdir())
    # One that is ours, but open to others, is closed.
    (tmp_path / "data" / "bathvigil" / "run").chmod(0o777)
    for folder in own_folders():
        assert stat.S_IMODE(folder.lstat().st_mode) == 0o700


def test_a_bell_note_rings_terminals_only(tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("mine")
    store = tmp_path / "runs.db"
    note = tmp_path / "runs.db.bell-1"
    with held_lock(note, str(precious), lambda _: BathvigilError("taken")):
        assert ring(lent_bells(store)) == []
    assert precious.read_bytes().count(BEL) == 0


def test_a_log_that_is_a_link_is_not_written(tmp_path: Path) -> None:
    from monitor.recorder.launching import launch_recorder

    precious = tmp_path / "precious"
    precious.write_text("mine")
    (tmp_path / "runs.db.log").symlink_to(precious)
    with pytest.raises(OSError, match=os.strerror(errno.ELOOP)):
        launch_recorder(tmp_path / "runs.db", ["scpi:/dev/no-such-port", "--limit-amps", "10"])
    assert precious.read_text() == "mine"


@pytest.mark.parametrize("name", ["plain", "by-id"])
def test_a_port_is_one_port_by_its_link_too(tmp_path: Path, name: str) -> None:
    """The kernel locks the device itself; two recorders never read one answer between them."""
    import pty

    from drivers.base.clock import SystemClock
    from drivers.errors import DriverError
    from drivers.link.serial_link import SerialLink
    from drivers.link.serial_settings import SerialSettings

    ours, its = pty.openpty()
    try:
        port = os.ttyname(its)
        link = tmp_path / "usb-bench-1"
        link.symlink_to(port)
        names = [port, str(link)] if name == "plain" else [str(link), port]
        by_ns = SystemClock().monotonic_ns() + 2_000_000_000
        first = SerialLink(names[0], SerialSettings(), SystemClock())
        first.open(by_ns)
        with pytest.raises(DriverError):
            SerialLink(names[1], SerialSettings(), SystemClock()).open(by_ns)
        first.close()
    finally:
        os.close(ours)
        os.close(its)
