"""A day of recording with somebody who reads all the time: how large the write-ahead log gets."""

from pathlib import Path

from benchmarks.store_rows import begin, rows_of_a_run
from monitor.store.opening import wal_path
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter

DAY_S = 86_400
LOOK_EVERY = 600


def largest_log_bytes(path: Path) -> int:
    """Commit a day's rows one by one; a reviewer reads on through them and draws them anew."""
    most = 0
    with StoreWriter(path) as writer:
        run = begin(writer)
        rows = rows_of_a_run(DAY_S, 1_000_000_000)
        writer.write([(run, next(rows))])
        with open_store(path) as store:
            reviewed = store.run(run)
            reading = reviewed.rows()
            for number, row in enumerate(rows):
                writer.write([(run, row)])
                next(reading, None)
                if number % LOOK_EVERY == 0:
                    reviewed.columns(200)
                    reviewed.summary()
                    most = max(most, wal_path(path).stat().st_size)
    return most
