"""The settings of a bench in, its forwarder's process out; nobody waits for it."""

import os
import subprocess
from pathlib import Path

from monitor.base.program import own_command
from monitor.forward.lock import is_forwarded

LOG_BYTES = 1_000_000
"""A log longer than this is begun anew; the one before is kept beside it."""


def forward_log_path(store: Path) -> Path:
    """Where a forwarder that the recorder started puts what it has to say."""
    return store.with_name(store.name + ".forward.log")


def start_forwarder(config: Path | None, store: Path) -> "subprocess.Popen[bytes] | None":
    """Start `bathvigil forward` for a store where the settings ask for it.

    The process is on its own: it outlives the recorder until all is sent, and what it meets shows
    in its log and in the store. None where there is nothing to start, one runs already, or
    the machine cannot start it: recording matters more.

    Parameters
    ----------
    config
        The bench.toml; None where the recorder was given an address instead.
    store
        What the recorder writes; it may not be there yet.
    """
    from monitor.settings import load_bench

    if config is None or load_bench(config).forward.url is None or is_forwarded(store):
        return None
    line = own_command("bathvigil", "forward", "--until-sent")
    line += ["--config", str(config.absolute()), "--store", str(store.absolute())]
    log = forward_log_path(store)
    try:
        if log.exists() and log.stat().st_size > LOG_BYTES:
            log.replace(log.with_name(log.name + ".before"))
        with log.open("ab") as output:
            return subprocess.Popen(
                line,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                start_new_session=True,
                env={**os.environ, "PYTHONUNBUFFERED": "1"},
            )
    except OSError:
        return None
