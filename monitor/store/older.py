"""A store in that an older version wrote, the same file at this version out, with a copy kept.

For commands that only want to read: nobody should have to record a run to see the ones before.
"""

from contextlib import closing
from pathlib import Path

from drivers.base.clock import Clock
from monitor.store.failures import told_clearly
from monitor.store.opening import READER_TIMEOUT_S, connect, version_of
from monitor.store.opening_to_write import bring_existing_up_to_date
from monitor.store.schema import VERSION


def is_older(path: Path) -> bool:
    """Whether a file is a store of a version before this one.

    Raises
    ------
    StoreError
        It is no store, or cannot be opened.
    """
    with told_clearly(path), closing(connect(path, "ro", READER_TIMEOUT_S)) as connection:
        return 0 < version_of(connection, path) < VERSION


def make_new(path: Path, clock: Clock) -> Path | None:
    """Bring an older store up to date; where the copy of the older one lies, None without one.

    Nobody may be recording into it. Unlike the recorder this sets nothing aside.

    Raises
    ------
    StoreError
        It is damaged, or cannot be written; it stays as it was.
    """
    return bring_existing_up_to_date(path, clock) if is_older(path) else None
