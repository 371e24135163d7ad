"""Opens a file as SQLite, and checks that it holds one of our stores."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import cache
from pathlib import Path

from monitor.base.errors import StoreFromNewerVersion
from monitor.store.failures import NoSuchStore, NotAStore, damaged, store_errors
from monitor.store.schema import APPLICATION_ID, OLDEST_READ, SHOWN_AS, STEPS, VERSION

READER_TIMEOUT_S = 2.0
DEMO_STORE = "demo.db"
"""What the demo's store is called, beside one's own."""
LONGEST_VALUE = 4_000_000
"""Bytes of one value or row that a reader accepts; ours stay far below."""

# Where the header holds it: https://www.sqlite.org/fileformat2.html#the_database_header
_APPLICATION_ID_AT = 68
_SCHEMA = "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL"


def connect(path: Path, mode: str, timeout_s: float) -> sqlite3.Connection:
    """Open a file as SQLite, with nothing in it trusted.

    Transactions are ours to begin and end. The connection may be handed from thread to thread,
    but serves one at a time.

    Parameters
    ----------
    mode
        "ro", "rw" or "rwc" (makes the file).
    """
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    if mode == "ro" and not wal_path(path).exists() and not os.access(path.parent, os.W_OK):
        # Nobody can be writing on a read-only medium.
        uri += "&immutable=1"
    connection = sqlite3.connect(
        uri, uri=True, timeout=timeout_s, isolation_level=None, check_same_thread=False
    )
    try:
        connection.execute("PRAGMA trusted_schema = OFF")
        connection.execute("PRAGMA cell_size_check = ON")
    except BaseException:
        connection.close()
        raise
    return connection


def wal_path(path: Path) -> Path:
    """The write-ahead log that lies beside a store while it is in use."""
    return path.with_name(path.name + "-wal")


def version_of(connection: sqlite3.Connection, path: Path, newest: int = VERSION) -> int:
    """The version of the store behind a connection; 0 for a file that is still empty.

    Raises
    ------
    NotAStore
        The file is another program's.
    StoreFromNewerVersion
        A newer bathvigil wrote it.
    """
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    application: int = connection.execute("PRAGMA application_id").fetchone()[0]
    if application == 0 and version == 0:
        holds_nothing = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0] == 0
        if holds_nothing:
            return 0
    if application != APPLICATION_ID:
        raise NotAStore(
            f"{path}: is an SQLite file of another program, not a store of runs; "
            "name another file with --store"
        )
    if version > newest:
        raise StoreFromNewerVersion(
            f"{path}: a newer bathvigil wrote it (store version {version}; this one knows up to "
            f"{newest}); bring bathvigil up to date, or name another file with --store"
        )
    return version


def _not_there(path: Path) -> str:
    """The commonest first mistake is to look for the demo's runs where one's own will be."""
    demo = path.with_name(DEMO_STORE)
    cure = f", or, for the demo's runs, give --store {demo}" if demo.exists() else ""
    return (
        f"{path}: there is no such store; check --store, or record a run first with "
        f"`bathvigil watch`{cure}"
    )


def open_existing(path: Path, mode: str, timeout_s: float) -> sqlite3.Connection:
    """Open a store that must be there already and of this version.

    Raises
    ------
    StoreError
        `NoSuchStore`, `NotAStore`, `StoreDamaged`, `StoreFromNewerVersion` and other failures,
        each with its cure.
    """
    if not path.exists():
        raise NoSuchStore(_not_there(path))
    if not path.is_file():
        raise NotAStore(f"{path}: is not a file; name a store with --store")
    with store_errors(path):
        connection = connect(path, mode, timeout_s)
        try:
            _check(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


@contextmanager
def atomic(connection: sqlite3.Connection) -> Iterator[None]:
    """One transaction that writes: all of it is stored, or nothing."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
        raise


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a store for one look, and close it.

    Raises
    ------
    StoreError
        See `open_existing`; `StoreDamaged` also for a ValueError inside.
    """
    with closing(open_existing(path, "ro", READER_TIMEOUT_S)) as connection, store_errors(path):
        try:
            yield connection
        except ValueError as error:
            raise damaged(path, str(error)) from error


def _check(connection: sqlite3.Connection, path: Path) -> None:
    try:
        version = version_of(connection, path)
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorname", "") == "SQLITE_NOTADB" and not header_is_ours(path):
            raise not_sqlite(path) from error
        raise
    if version == 0:
        raise NoSuchStore(f"{path}: nothing has been recorded into it yet; record a run first")
    if version < OLDEST_READ:
        raise NoSuchStore(
            f"{path}: an older bathvigil wrote it (store version {version}); it is brought up to "
            "date, with a copy kept, when the next run is recorded into it"
        )
    check_schema(connection, path, STEPS[:version])
    for step in range(version + 1, VERSION + 1):
        connection.execute(SHOWN_AS[step])


def check_schema(
    connection: sqlite3.Connection, path: Path, steps: tuple[str, ...] = STEPS
) -> None:
    """Compare what a file says of its tables with what those steps make of them.

    Raises
    ------
    StoreDamaged
        Something lacks or differs.
    """
    if not expected_schema(steps) <= set(connection.execute(_SCHEMA)):
        raise damaged(path, "its tables are not those of a store")


@cache
def expected_schema(steps: tuple[str, ...] = STEPS) -> frozenset[tuple[str, str, str]]:
    """Type, name and text of everything that a store of these steps holds.

    A stranger's file could hold a view that never ends in the place of a table, or tables that
    are not STRICT; where all texts are ours, so is the meaning.
    """
    blank = sqlite3.connect(":memory:")
    try:
        for step in steps:
            blank.executescript(step)
        return frozenset(blank.execute(_SCHEMA))
    finally:
        blank.close()


def not_sqlite(path: Path) -> NotAStore:
    """The file is not even SQLite's."""
    return NotAStore(f"{path}: is not a store of runs; name another file with --store")


def header_is_ours(path: Path) -> bool:
    """True where a file that SQLite does not understand still carries our application id."""
    with path.open("rb") as file:
        file.seek(_APPLICATION_ID_AT)
        return file.read(4) == APPLICATION_ID.to_bytes(4, "big")
