"""The path of a store in, how many runs it holds out, or what is wrong with it; for `check`."""

from pathlib import Path

from drivers.clock import Clock, SystemClock
from monitor.store.failures import damaged, told_clearly
from monitor.store.opening import READER_TIMEOUT_S, open_existing

LONGEST_LOOK_S = 10.0


def check_store(path: Path, clock: Clock | None = None, within_s: float = LONGEST_LOOK_S) -> int:
    """Read a store through, as far as that goes in a while; nobody who records is held up.

    Raises
    ------
    StoreError
        `NoSuchStore` where there is none yet or an older one, `NotAStore`, `StoreDamaged`,
        `StoreFromNewerVersion`.
    """
    clock = clock or SystemClock()
    connection = open_existing(path, "ro", READER_TIMEOUT_S)
    try:
        with told_clearly(path):
            runs: int = connection.execute("SELECT count(*) FROM runs").fetchone()[0]
            deadline_ns = clock.monotonic_ns() + round(within_s * 1e9)
            is_late = False

            def look() -> bool:
                nonlocal is_late
                is_late = clock.monotonic_ns() > deadline_ns
                return is_late

            connection.set_progress_handler(look, 10_000)
            try:
                verdict: str = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
            except Exception:
                if not is_late:
                    raise
                verdict = "ok"
        if verdict != "ok":
            raise damaged(path, " ".join(verdict.split()))
    finally:
        connection.close()
    return runs
