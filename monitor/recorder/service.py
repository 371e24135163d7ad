"""A word in, a datagram to the system's service manager out, where one started us.

The protocol is that of sd_notify(3): lines of KEY=VALUE to the socket that NOTIFY_SOCKET names.
"""

import os
import socket
from collections.abc import MutableMapping
from contextlib import suppress


class ServiceLine:
    """The way to the service manager; does nothing where there is none.

    Parameters
    ----------
    environment
        Where NOTIFY_SOCKET may stand; it is taken out, so that no child of ours speaks for us.

    Examples
    --------
    >>> ServiceLine({}).is_there
    False
    """

    def __init__(self, environment: MutableMapping[str, str] | None = None) -> None:
        given = os.environ if environment is None else environment
        place = given.pop("NOTIFY_SOCKET", "")
        # A name that begins with @ lies in the abstract name space: unix(7).
        self._place = "\0" + place[1:] if place.startswith("@") else place

    @property
    def is_there(self) -> bool:
        """Whether a service manager listens."""
        return bool(self._place)

    def ready(self) -> None:
        """Say that the recorder polls."""
        self._say("READY=1")

    def alive(self) -> None:
        """Keep the manager's watchdog quiet for one more period."""
        self._say("WATCHDOG=1")

    def stopping(self) -> None:
        """Say that the recorder ends on purpose."""
        self._say("STOPPING=1")

    def _say(self, word: str) -> None:
        if not self._place or not hasattr(socket, "AF_UNIX"):
            return
        # A manager that is gone or busy is no reason to stop recording.
        with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
            line.setblocking(False)
            line.sendto(word.encode("ascii"), self._place)
