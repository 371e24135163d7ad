"""A serial port in, what is known of it out, without opening it; for `find`."""

import errno
import os
from dataclasses import dataclass
from pathlib import Path

from drivers.link.port_holders import Holder, port_holders
from drivers.link.port_troubles import port_trouble
from drivers.link.ports import SerialPort


@dataclass(frozen=True, slots=True)
class PortReport:
    """What is known of one port.

    Parameters
    ----------
    holders
        The processes that hold it, as far as this user sees them.
    denied
        Why this user may not open it, with the cure; None where it may.
    """

    port: SerialPort
    holders: tuple[Holder, ...]
    denied: str | None


def report_port(port: SerialPort, root: Path = Path("/"), proc: Path = Path("/proc")) -> PortReport:
    """Look at a port; nothing is opened."""
    path = str(root / port.device.removeprefix("/"))
    denied = None
    if not os.access(path, os.R_OK | os.W_OK):
        number = errno.EACCES if Path(path).exists() else errno.ENOENT
        denied = str(port_trouble(path, "", OSError(number, os.strerror(number)), lambda: ()))
    return PortReport(port, port_holders(path, proc), denied)
