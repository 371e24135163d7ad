"""The run store: `open_store(path).run(1).samples()` gives a run's readings as numpy arrays.

See README, "Exports, copies, notebooks", for an example. What this names is loaded when it is asked
for, so that those who need a single file of this package load no more.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.store.reader import Column, Store, StoredRun, open_store

__all__ = ["Column", "Store", "StoredRun", "open_store"]


def __getattr__(name: str) -> object:
    if name not in __all__:
        raise AttributeError(f"monitor.store has no {name}")
    from monitor.store import reader

    return getattr(reader, name)
