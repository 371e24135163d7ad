"""Turns a failure of a serial port into our error with its cure."""

import errno
import os
import stat
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from drivers.base.inert import inert
from drivers.errors import (
    BadAddress,
    DriverError,
    PortBusy,
    PortDenied,
    PortMissing,
    Reopen,
)
from drivers.link.port_holders import Holder, port_holders

if sys.platform != "win32":
    import grp
    import pwd

_MISSING = {errno.ENOENT, errno.ENXIO, errno.ENODEV, errno.ENOTDIR}
_DENIED = {errno.EACCES, errno.EPERM}
_BUSY = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}
_NO_PORT = {errno.ENOTTY, errno.EISDIR}


def port_trouble(
    path: str, settings_words: str, error: BaseException, known_ports: Callable[[], Sequence[str]]
) -> DriverError:
    """Our error for a failed opening of the port at `path`.

    Parameters
    ----------
    settings_words
        How the port was to be set, such as "9600 baud 8N1".
    error
        What was raised; the system's number is looked for in what it was raised from, too.
    known_ports
        Lists the ports that there are; asked only where the port is missing.
    """
    number = error_number(error)
    if number in _MISSING:
        return _missing(path, known_ports())
    if number in _DENIED:
        return _denied(path)
    if number in _BUSY:
        return _busy(path, port_holders(path))
    if number in _NO_PORT:
        return no_port(path)
    if number == errno.EIO:
        return Reopen(
            f"{path}: the name is there, but no working port is behind it ({_reason(error)}): "
            "another port is meant, or the adapter is broken or going away"
        )
    if number == errno.EINVAL or isinstance(error, ValueError):
        return BadAddress(
            f"{path}: the port does not take {settings_words}: correct baud, parity, stop_bits "
            "or data_bits in the address, by the supply's manual"
        )
    return Reopen(
        f"{path}: could not be opened ({_reason(error)}): pull the adapter out, plug it in again; "
        "it is tried again by itself"
    )


def no_port(path: str) -> BadAddress:
    """The error for a path that leads to something else than a serial port."""
    return BadAddress(f"{path} is not a serial port: correct the path in the supply's address")


def port_vanished(path: str, error: BaseException) -> Reopen:
    """The error for a port that failed while it was open."""
    return Reopen(
        f"{path}: the port went away ({_reason(error)}): check the USB plug and the adapter; "
        "it is tried again by itself"
    )


def error_number(error: BaseException) -> int | None:
    """The system's error number, from `error` or from what it was raised from."""
    seen: BaseException | None = error
    while seen is not None:
        # termios.error is no OSError: it carries the number as its first argument.
        number = getattr(seen, "errno", None) or (seen.args[0] if seen.args else None)
        if isinstance(number, int):
            return number
        seen = seen.__cause__ or seen.__context__
    return None


def _reason(error: BaseException) -> str:
    return inert(str(error)) or type(error).__name__


def _missing(path: str, known: Sequence[str]) -> PortMissing:
    there = ", ".join(known) if known else "none"
    return PortMissing(
        f"{path}: there is no such port; ports that are here: {there}. "
        "Plug the adapter in, or correct the path in the supply's address"
    )


def _busy(path: str, holders: Sequence[Holder]) -> PortBusy:
    if not holders:
        return PortBusy(
            f"{path}: another program holds the port, one that this user cannot see: "
            f"`sudo fuser -v {path}` names it; close it"
        )
    words = [_holder_words(holder, path) for holder in holders]
    return PortBusy(f"{path}: the port is held by {'; and by '.join(words)}")


def _holder_words(holder: Holder, path: str) -> str:
    if holder.is_ourselves:
        return "bathvigil itself: two supplies in the settings name the same port; correct one"
    who = f"{inert(holder.name)} (process {holder.pid})"
    if holder.hint is None:
        return f"{who}: close that program, or `kill {holder.pid}`"
    return f"{who}: {holder.hint.replace('PORT', Path(path).name)}"


def _denied(path: str) -> PortDenied:
    if sys.platform == "win32":
        return PortDenied(f"{path}: another program holds the port, or Windows forbids it")
    start = f"{path}: the system does not let this user open the port"
    try:
        state = Path(path).stat()
    except OSError:
        return PortDenied(f"{start}, nor see it: check the folders on the way to it")
    user = _user_name(os.geteuid())
    group = _group_name(state.st_gid)
    if stat.S_IMODE(state.st_mode) & 0o060 != 0o060:
        return PortDenied(
            f"{start}: only its owner {_user_name(state.st_uid)} may, group {group} may not; "
            f"`sudo chmod g+rw {path}` opens it to the group until the next plugging-in"
        )
    if state.st_gid in {os.getegid(), *os.getgroups()}:
        return PortDenied(f"{start} though {user} is in its group {group}: ask who set it up so")
    if _is_member(user, state.st_gid):
        return PortDenied(
            f"{start}: {user} was put into its group {group} after logging in: log out and in again"
        )
    return PortDenied(
        f"{start}: it belongs to group {group}, and {user} is not in it: "
        f"`sudo usermod -aG {group} {user}`, then log out and in again"
    )


def _user_name(uid: int) -> str:
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return str(uid)


def _group_name(gid: int) -> str:
    try:
        return grp.getgrgid(gid).gr_name
    except KeyError:
        return str(gid)


def _is_member(user: str, gid: int) -> bool:
    try:
        return user in grp.getgrgid(gid).gr_mem
    except KeyError:
        return False
