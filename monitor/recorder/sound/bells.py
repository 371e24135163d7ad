"""The bell of a screen's terminal, rung by the recorder: the last resort for sound.

A recorder that `watch` starts has no terminal, for it must outlive the window. So each screen's
command notes its own in a small file beside the store, and keeps that locked for as long as it
lives: what nobody holds any more is a window that was closed or killed, and is passed over.
"""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.base.kernel_lock import try_lock
from monitor.base.own_file import open_own

BEL = b"\a"
"""The control character of ECMA-48, 8.3.3; no terminal takes it for a part of anything else."""
OWN = Path("/dev/tty")


@contextmanager
def lends_its_bell(store: Path) -> Iterator[None]:
    """Let a store's recorder ring the bell of this process's terminal, while the context lasts.

    Where there is no terminal, or nothing can be written beside the store, nothing is lent.
    """
    note = store.with_name(f"{store.name}.bell-{os.getpid()}")
    descriptor = _lend(note)
    try:
        yield
    finally:
        if descriptor is not None:
            with suppress(OSError):
                note.unlink()
            os.close(descriptor)


def _lend(note: Path) -> int | None:
    if not hasattr(os, "ttyname"):
        return None
    made = note.with_name(note.name + ".part")
    try:
        terminal = os.ttyname(0)
        note.parent.mkdir(parents=True, exist_ok=True)
        descriptor = open_own(made, os.O_RDWR | os.O_CREAT | os.O_TRUNC)
    except OSError:
        return None
    try:
        # Locked before it has its name: nobody can take it for one that was left behind.
        try_lock(descriptor)
        os.write(descriptor, os.fsencode(terminal))
        made.rename(note)
    except OSError:
        os.close(descriptor)
        return None
    return descriptor


def lent_bells(store: Path) -> list[Path]:
    """The terminals that are lent to a store's recorder now; notes left behind are cleared away."""
    terminals = []
    for note in sorted(store.parent.glob(f"{store.name}.bell-*")):
        if note.suffix == ".part":
            continue
        with suppress(OSError):
            descriptor = open_own(note, os.O_RDONLY)
            try:
                if try_lock(descriptor):
                    note.unlink()
                else:
                    terminals.append(Path(os.fsdecode(os.read(descriptor, 256))))
            finally:
                os.close(descriptor)
    return terminals


def ring(terminals: Sequence[Path]) -> list[Path]:
    """Ring the bells of these terminals, never waiting for one; those that took it."""
    rung = []
    for terminal in terminals:
        with suppress(OSError):
            line = os.open(terminal, os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK)
            try:
                # Whatever a note names: only a terminal takes a bell.
                if os.isatty(line):
                    os.write(line, BEL)
                    rung.append(terminal)
            finally:
                os.close(line)
    return rung
