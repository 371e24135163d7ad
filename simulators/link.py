"""What a transport offers, and how it can fail; it knows no protocol."""

from typing import Protocol


class CannotServe(Exception):
    """A link that cannot be opened; the message is one line and names the cure."""


class Port(Protocol):
    """One stream of bytes that is open; none of its calls waits."""

    @property
    def late_s(self) -> float:
        """How long bytes are under way to here that on the wire itself are there at once."""
        ...

    def fileno(self) -> int: ...

    def read(self) -> bytes | None:
        """Give what has come, b"" where the other side has gone, None where nothing has come."""
        ...

    def write(self, data: bytes) -> int:
        """Send what goes now; give how many bytes went."""
        ...

    def close(self) -> None: ...

    def cut(self) -> None:
        """Close it so that the other side notices, as far as there is a way."""
        ...


class Link(Protocol):
    """One transport, open from its making on."""

    @property
    def address(self) -> str:
        """Where it serves, as it stands behind the protocol in a supply's address."""
        ...

    def listener(self) -> int | None:
        """What to watch for a caller; None where nobody calls, as on a serial line."""
        ...

    def ports(self) -> list[Port]:
        """Those ports that are open without a call."""
        ...

    def accept(self) -> Port | None:
        """Take a call."""
        ...

    def unplug(self) -> None:
        """Be gone: no port, no name, no listener; the ports are closed by whoever has them."""
        ...

    def plug_in(self, name: str | None = None) -> None:
        """Be there again, under the same name, or under another where links have names.

        Raises
        ------
        CannotServe
            Where that cannot be.
        """
        ...

    def close(self) -> None: ...
