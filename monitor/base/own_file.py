"""Files and folders that are ours: no other user of this machine may lead us elsewhere with them.

In a folder that others can write, a name may be a link that somebody has put there, or a file of
theirs. We follow no link there and open nothing that is not a plain file of our own.
"""

import os
import stat
import sys
from contextlib import suppress
from pathlib import Path

from platformdirs import user_data_path

_NO_LINK = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
"""A named pipe, too, must not make us wait."""


def open_own(path: Path, flags: int, mode: int = 0o600) -> int:
    """Open a plain file that is ours; the descriptor.

    Parameters
    ----------
    flags
        Those of `os.open`.
    mode
        Of a file that is made.

    Raises
    ------
    OSError
        Also for a link, for anything but a plain file, and for a file of somebody else.
    """
    # Emptied only once it is known whose it is.
    descriptor = os.open(path, flags & ~os.O_TRUNC | _NO_LINK, mode)
    try:
        found = os.fstat(descriptor)
        if not stat.S_ISREG(found.st_mode):
            raise OSError(None, "it is no plain file", str(path))
        if not is_ours(found, path.parent):
            raise OSError(None, "it belongs to another user", str(path))
        if flags & os.O_TRUNC:
            os.ftruncate(descriptor, 0)
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor


def own_opener(path: str, flags: int) -> int:
    """The `opener` of `open` for a file that must be ours."""
    return open_own(Path(path), flags, 0o644)


def is_ours(found: os.stat_result, folder: Path) -> bool:
    """Whether a file in a folder is our own, root's, or that of the folder's owner."""
    if sys.platform == "win32":
        return True
    return found.st_uid in (os.geteuid(), 0, folder.stat().st_uid)


def own_folders() -> list[Path]:
    """The folders for what lasts as long as a process, made where they lack; none may be usable.

    The runtime folder of the session, as XDG_RUNTIME_DIR names it or systemd makes it, and the
    user's data folder. All of them, since not every process of ours has the same environment.
    """
    sessions = [Path(os.environ.get("XDG_RUNTIME_DIR", ""))]
    if sys.platform != "win32":
        sessions.append(Path(f"/run/user/{os.geteuid()}"))
    data = user_data_path("bathvigil", appauthor=False)
    with suppress(OSError):
        data.mkdir(parents=True, exist_ok=True)
    # The session's folder itself is made by the system or not at all.
    places = [place / "bathvigil" for place in sessions if place.is_absolute()]
    return [place for place in dict.fromkeys([*places, data / "run"]) if _is_made(place)]


def _is_made(folder: Path) -> bool:
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
        if not stat.S_ISDIR(found.st_mode):
            return False
        if sys.platform != "win32":
            if found.st_uid != os.geteuid():
                return False
            if stat.S_IMODE(found.st_mode) != 0o700:
                folder.chmod(0o700)
    except OSError:
        return False
    return True
