"""Entries of the baths' ledger in and out of the store; nothing is ever edited."""

from dataclasses import replace
from pathlib import Path

from drivers.base.clock import Clock, SystemClock
from monitor.base.errors import StoreError
from monitor.model.entry import Entry
from monitor.store.opening import reading
from monitor.store.requests import adding
from monitor.store.tables import BATH_ENTRIES
from monitor.store.writer import StoreWriter


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
                BATH_ENTRIES.insert("utc_ns"),
                # Without a number: the table gives it one.
                (self._clock.utc_ns(), *BATH_ENTRIES.cells(replace(entry, entry=None))),
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
        chosen = BATH_ENTRIES.select("WHERE coalesce(bath = ?, TRUE) ORDER BY entry")
        with reading(self._path) as connection:
            return [BATH_ENTRIES.value(row) for row in connection.execute(chosen, (bath,))]
