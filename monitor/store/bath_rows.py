"""Entries of the baths' ledger in and out of the store; nothing is ever edited."""

from dataclasses import astuple, fields
from pathlib import Path

from drivers.base.clock import Clock, SystemClock
from monitor.base.errors import StoreError
from monitor.model.entry import Entry, Kind
from monitor.store.decoding import Row
from monitor.store.failures import told_clearly
from monitor.store.opening import READER_TIMEOUT_S, open_existing
from monitor.store.requests import adding
from monitor.store.writer import StoreWriter

_NAMES = [field.name for field in fields(Entry)][:-1]
_COLUMNS = ", ".join(_NAMES)


class BathBook:
    """The ledger in a store, which is made where there is none: a bath comes before its first run.

    Parameters
    ----------
    path
        The store.
    clock
        Stamps what is written down; the machine's where None.
    """

    def __init__(self, path: Path, clock: Clock | None = None) -> None:
        self._path = path
        self._clock = clock or SystemClock()

    def add(self, entry: Entry) -> int:
        """Add one entry; its number.

        Raises
        ------
        StoreError
            It corrects an entry that is not there, or that another one corrects already, or the
            store cannot be written; nothing was added.
        """
        if not self._path.exists():
            StoreWriter(self._path, clock=self._clock).close()
        with adding(self._path) as connection:
            if entry.corrects is not None:
                found = connection.execute(
                    "SELECT bath, (SELECT max(entry) FROM bath_entries WHERE corrects = ?1)"
                    " FROM bath_entries WHERE entry = ?1",
                    (entry.corrects,),
                ).fetchone()
                if found is None or found[0] != entry.bath:
                    raise StoreError(
                        f"{self._path}: {entry.bath} has no entry {entry.corrects}; "
                        "see `bathvigil bath show`"
                    )
                if found[1] is not None:
                    raise StoreError(
                        f"{self._path}: entry {found[1]} corrects entry {entry.corrects} already; "
                        f"correct entry {found[1]}"
                    )
            number = connection.execute(
                f"INSERT INTO bath_entries (utc_ns, {_COLUMNS}) "
                f"VALUES (?, {', '.join('?' * len(_NAMES))})",
                (self._clock.utc_ns(), *_cells(entry)),
            ).lastrowid
        assert number is not None
        return number

    def entries(self, bath: str | None = None) -> list[Entry]:
        """All entries of one bath or of all, corrected ones too, as they were written down.

        Raises
        ------
        StoreError
            See `open_store`.
        """
        connection = open_existing(self._path, "ro", READER_TIMEOUT_S)
        try:
            with told_clearly(self._path):
                rows = connection.execute(
                    f"SELECT {_COLUMNS}, entry FROM bath_entries WHERE coalesce(bath = ?, TRUE)"
                    " ORDER BY entry",
                    (bath,),
                ).fetchall()
        finally:
            connection.close()
        return [_entry_of(row) for row in rows]


def _cells(entry: Entry) -> tuple[str | float | None, ...]:
    cells: list[str | float | None] = [
        cell.value if isinstance(cell, Kind) else cell for cell in astuple(entry)[:-1]
    ]
    return tuple(cells)


def _entry_of(row: Row) -> Entry:
    bath, kind, *rest = row
    return Entry(bath, Kind(kind), *rest)
