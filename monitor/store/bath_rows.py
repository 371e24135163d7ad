"""The baths' ledger in the store: entries are added and read, never edited."""

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
    """The ledger of a store. The store is made if there is none: a bath comes before its first run.

    Parameters
    ----------
    path
        The store.
    clock
        Dates the entries; the machine's clock where None.
    """

    def __init__(self, path: Path, clock: Clock | None = None) -> None:
        self._path = path
        self._clock = clock or SystemClock()

    def add(self, entry: Entry) -> int:
        """Add one entry; its number.

        Raises
        ------
        StoreError
            It corrects an entry that does not exist or that is corrected already, or the store
            cannot be written. Nothing was added.
        """
        if not self._path.exists():
            StoreWriter(self._path, clock=self._clock).close()
        with adding(self._path) as connection:
            if entry.corrects is not None:
                corrected = connection.execute(
                    "SELECT bath, (SELECT max(entry) FROM bath_entries WHERE corrects = ?1)"
                    " FROM bath_entries WHERE entry = ?1",
                    (entry.corrects,),
                ).fetchone()
                if corrected is None or corrected[0] != entry.bath:
                    raise StoreError(
                        f"{self._path}: {entry.bath} has no entry {entry.corrects}; "
                        "see `bathvigil bath show`"
                    )
                newer = corrected[1]
                if newer is not None:
                    raise StoreError(
                        f"{self._path}: entry {newer} corrects entry {entry.corrects} already; "
                        f"correct entry {newer}"
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
