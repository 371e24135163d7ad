"""Which store a command means: the one that was named, the bench's, or the user's own."""

from pathlib import Path

from monitor.settings import default_store_path, load_bench


def store_path(store: Path | None, config: Path | None = None) -> Path:
    """The store that a command reads or writes.

    Parameters
    ----------
    store
        What `--store` gave; it comes first.
    config
        What `--config` gave; its `[store] file` comes second.
    """
    if store is not None:
        return store
    if config is not None:
        file = load_bench(config).store.file
        if file is not None:
            return file
    return default_store_path()
