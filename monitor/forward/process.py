"""The forwarder's own process: started by the recorder, one for a store, with a log beside it."""

import os
import subprocess
from contextlib import AbstractContextManager
from pathlib import Path

from monitor.base.errors import BathvigilError
from monitor.base.kernel_lock import held_lock, text_of_holder
from monitor.base.own_file import own_opener
from monitor.base.program import last_complaint, own_command
from monitor.forward.reply import one_line

LOG_BYTES = 1_000_000
"""A log longer than this is begun anew; the one before is kept beside it."""
LAST_WORDS = 2000
"""Bytes at the end of a log in which its last line is looked for."""


class ForwarderRuns(BathvigilError):
    """Another forwarder follows this store."""


def forwarder_lock(store: Path) -> AbstractContextManager[None]:
    """Hold a store for this forwarder; raises `ForwarderRuns` where another one has it."""
    refusal = ForwarderRuns(f"another forwarder follows {store}; one is enough")
    return held_lock(_lock_path(store), "", lambda _: refusal)


def is_forwarded(store: Path) -> bool:
    """True while a forwarder follows the store."""
    return text_of_holder(_lock_path(store)) is not None


def _lock_path(store: Path) -> Path:
    return store.with_name(store.name + ".forwarder")


def forward_log_path(store: Path) -> Path:
    """Where a forwarder that the recorder started puts what it has to say."""
    return store.with_name(store.name + ".forward.log")


def last_words(store: Path) -> str:
    """The last line of that log; "" where there is none."""
    log = forward_log_path(store)
    try:
        with log.open("rb") as file:
            file.seek(max(log.stat().st_size - LAST_WORDS, 0))
            return one_line(last_complaint(file.read().decode("utf-8", "replace")))
    except OSError:
        return ""


def start_forwarder(config: Path | None, store: Path) -> "subprocess.Popen[bytes] | None":
    """Start `bathvigil forward` for a store where the settings ask for it.

    It outlives the recorder until all is sent; its failures show in its log and in the store.

    Parameters
    ----------
    config
        The bench.toml; None where the recorder was given an address instead.
    store
        What the recorder writes; it may not be there yet.

    Returns
    -------
    subprocess.Popen or None
        None where there is nothing to start, one runs already, or the machine cannot start it:
        recording matters more.
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
        with open(log, "ab", opener=own_opener) as output:
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
