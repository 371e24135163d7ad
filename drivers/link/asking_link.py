"""A link that sends only the messages on its list and refuses everything else."""

from collections.abc import Container

from drivers.base.inert import inert
from drivers.errors import QuestionRefused
from drivers.link.link import Link


class AskingLink:
    """A `Link` that can only ask: it sends whole questions of its list and nothing else.

    Parameters
    ----------
    link
        The link behind it, used by nobody else.
    allowed
        Every message that may ever be sent, as bytes on the wire, without its first `skips` bytes.
    skips
        How many bytes at the start of a message may differ: 2 on Modbus/TCP, where each frame
        begins with a number of its own; else 0.
    """

    def __init__(self, link: Link, allowed: Container[bytes], skips: int = 0) -> None:
        self._link = link
        self._allowed = allowed
        self._skips = skips

    @property
    def place(self) -> str:
        return self._link.place

    def open(self, deadline_ns: int) -> None:
        self._link.open(deadline_ns)

    def close(self) -> None:
        self._link.close()

    def write(self, data: bytes, deadline_ns: int) -> None:
        """Send one whole message of the list.

        Raises
        ------
        QuestionRefused
            Before a byte leaves, for anything else.
        """
        if data[self._skips :] not in self._allowed:
            shown = inert(data.decode("latin-1"))
            raise QuestionRefused(f"{self.place}: {shown!r} is not on the list of questions")
        self._link.write(data, deadline_ns)

    def read(self, deadline_ns: int) -> bytes:
        return self._link.read(deadline_ns)
