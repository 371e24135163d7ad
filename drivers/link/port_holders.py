"""The processes that hold a serial port open, as far as /proc shows them."""

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_GRABBERS = {
    "ModemManager": "it tries every new serial port for a modem: "
    "`sudo systemctl disable --now ModemManager`, or tell it to leave this port alone",
    "brltty": "a braille daemon takes some USB adapters for braille displays: "
    "`sudo systemctl disable --now brltty`, or remove it",
    "gpsd": "a positioning daemon takes serial ports: `sudo systemctl disable --now gpsd`",
    "getty": "a login prompt runs on this port: `sudo systemctl disable --now serial-getty@PORT`",
    "agetty": "a login prompt runs on this port: `sudo systemctl disable --now serial-getty@PORT`",
}


@dataclass(frozen=True, slots=True)
class Holder:
    """One process that has a device open. `hint` says how to stop programs known to take ports."""

    pid: int
    name: str

    @property
    def is_ourselves(self) -> bool:
        """True for the very process that asks."""
        return self.pid == os.getpid()

    @property
    def hint(self) -> str | None:
        """What to do about a program known to take serial ports unasked; None for others."""
        return _GRABBERS.get(self.name)


def port_holders(path: str, proc: Path = Path("/proc")) -> tuple[Holder, ...]:
    """Who holds the device at `path`: by open files, and by file locks.

    Only an administrator sees the open files of other users' processes; the table of locks
    shows everybody's. Where there is no /proc, nobody is found.
    """
    try:
        device = Path(path).stat()
    except OSError:
        return ()
    pids = sorted({*_openers(device, proc), *_lockers(device, proc)})
    return tuple(Holder(pid, _name(pid, proc)) for pid in pids)


def _openers(device: os.stat_result, proc: Path) -> Iterator[int]:
    for process in _entries(proc):
        if process.name.isdigit() and any(_is(file, device) for file in _entries(process / "fd")):
            yield int(process.name)


def _entries(folder: Path) -> list[Path]:
    """Empty where the process has ended, or belongs to another user."""
    try:
        return list(folder.iterdir())
    except OSError:
        return []


def _is(file: Path, device: os.stat_result) -> bool:
    try:
        opened = file.stat()
    except OSError:
        return False
    if not stat.S_ISCHR(device.st_mode):
        return (opened.st_dev, opened.st_ino) == (device.st_dev, device.st_ino)
    return stat.S_ISCHR(opened.st_mode) and opened.st_rdev == device.st_rdev


def _lockers(device: os.stat_result, proc: Path) -> Iterator[int]:
    where = f"{os.major(device.st_dev):02x}:{os.minor(device.st_dev):02x}:{device.st_ino}"
    try:
        lines = (proc / "locks").read_text(encoding="ascii").splitlines()
    except OSError:
        return
    for line in lines:
        words = line.split()
        if len(words) >= 6 and words[5] == where and words[4].isdigit():
            yield int(words[4])


def _name(pid: int, proc: Path) -> str:
    try:
        return (proc / str(pid) / "comm").read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return "a process that has ended"
