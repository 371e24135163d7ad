"""The front door for notebooks and scripts: `open_store` reads a store of runs.

```python
from bathvigil import open_store

with open_store("bathvigil.db") as store:
    series = store.run(1).samples()  # numpy arrays
```

Nothing is loaded until it is asked for. `python -m bathvigil` is the command line.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.store.reader import open_store

    __version__: str

__all__ = ["__version__", "open_store"]


def __getattr__(name: str) -> object:
    if name == "open_store":
        from monitor.store.reader import open_store

        return open_store
    if name == "__version__":
        from monitor.base.program import VERSION

        return VERSION
    raise AttributeError(f"bathvigil has no {name!r}: it has {' and '.join(__all__)}")
