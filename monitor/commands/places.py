"""The store of a command: the one that was named, the bench's, or the user's own."""

import os
from pathlib import Path

import click

from drivers.base.clock import SystemClock
from monitor.base.errors import BathvigilError
from monitor.recorder.lock import store_lock
from monitor.settings import default_store_path, load_bench
from monitor.store.opening_to_write import is_older, update_store


def store_path(store: Path | None, config: Path | None = None) -> Path:
    """The store that a command reads or writes, at this version.

    A store of an older version is brought up to date, and a copy of it kept, unless a recorder
    writes to it.

    Parameters
    ----------
    store
        What `--store` gave; it comes first.
    config
        What `--config` gave; its `[store] file` comes second.
    """
    path = _named(store, config)
    if path.is_symlink():
        # All names of a store lead to the same files beside it.
        path = Path(os.path.realpath(path))
    _update(path)
    return path


def _named(store: Path | None, config: Path | None) -> Path:
    if store is not None:
        return store
    if config is not None:
        file = load_bench(config).store.file
        if file is not None:
            return file
    return default_store_path()


def _update(path: Path) -> None:
    try:
        if not path.is_file() or not is_older(path):
            return
        with store_lock(path):
            kept = update_store(path, SystemClock())
    except BathvigilError:
        # Somebody records, or it cannot be written: what opens it says so, with the cure.
        return
    click.echo(f"{path}: was brought up to date; the older file is kept as {kept}", err=True)
