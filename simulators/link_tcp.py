"""A TCP port on the loopback address, for any number of callers."""

import errno
import socket
import struct

from simulators.link import CannotServe, Port

LOOPBACK = "127.0.0.1"


class TcpPort:
    """One caller."""

    late_s = 0.0

    def __init__(self, connection: socket.socket) -> None:
        self._connection = connection
        connection.setblocking(False)
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def fileno(self) -> int:
        return self._connection.fileno()

    def read(self) -> bytes | None:
        try:
            return self._connection.recv(4096)
        except BlockingIOError:
            return None
        except OSError:  # reset by the caller: gone is gone
            return b""

    def write(self, data: bytes) -> int:
        try:
            return self._connection.send(data)
        except BlockingIOError:
            return 0
        except OSError:  # the next read says that the caller has gone
            return len(data)

    def close(self) -> None:
        self._connection.close()

    def cut(self) -> None:
        linger_no_time = struct.pack("ii", 1, 0)
        self._connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger_no_time)
        self.close()


class TcpLink:
    """Listens on the loopback address only.

    Parameters
    ----------
    port
        0 for any that is free.

    Raises
    ------
    CannotServe
        Where the port is taken or not allowed.
    """

    def __init__(self, port: int = 0) -> None:
        self._port = port
        self._socket: socket.socket
        self.plug_in()

    def unplug(self) -> None:
        self._socket.close()

    def plug_in(self, name: str | None = None) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            self._socket.bind((LOOPBACK, self._port))
            self._socket.listen()
        except OSError as error:
            self._socket.close()
            cure = "leave --port out, then any free one is taken"
            what = "is taken" if error.errno == errno.EADDRINUSE else f"failed: {error.strerror}"
            raise CannotServe(f"port {self._port} on {LOOPBACK} {what}; {cure}") from error
        self._socket.setblocking(False)
        self._port = int(self._socket.getsockname()[1])

    @property
    def address(self) -> str:
        return f"tcp://{LOOPBACK}:{self._port}"

    def listener(self) -> int | None:
        return self._socket.fileno()

    def ports(self) -> list[Port]:
        return []

    def accept(self) -> Port | None:
        try:
            connection, _ = self._socket.accept()
        except OSError:  # the caller has hung up before we took the call
            return None
        return TcpPort(connection)

    def close(self) -> None:
        self._socket.close()
