"""A `Link` over a plain TCP socket."""

import contextlib
import errno
import os
import select
import socket
import threading

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.errors import PortMissing, Reopen
from drivers.link.link import SLICE_S

# A cable pulled out sends nothing: without these a dead socket looks alive for hours.
KEEPALIVE_IDLE_S = 5
KEEPALIVE_EVERY_S = 2
KEEPALIVE_PROBES = 3
UNACKNOWLEDGED_MS = 5000

_CHUNK = 65536
_NO_ADDRESS = (OSError, UnicodeError)

_SocketAddress = tuple[str, int] | tuple[str, int, int, int]
_Addresses = list[tuple[socket.AddressFamily, _SocketAddress]]


class TcpLink:
    """One connection to one host and port.

    Parameters
    ----------
    host, port
        A name or a number, and the port.
    clock
        For the deadlines.
    """

    def __init__(self, host: str, port: int, clock: Clock) -> None:
        self.host = host
        self.port = port
        self.clock = clock
        self._socket: socket.socket | None = None
        self._look_up = _LookUp()

    @property
    def place(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"

    def open(self, deadline_ns: int) -> None:
        """Connect.

        Raises
        ------
        PortMissing
            Where the name is unknown, nothing serves there, or nobody answers in time.
        """
        self.close()
        addresses = self._look_up.ask(self.host, self.port, self.clock, deadline_ns)
        failure = PortMissing(f"{self.place}: the name leads to no address")
        for family, address in addresses:
            sock = socket.socket(family, socket.SOCK_STREAM)
            try:
                sock.setblocking(False)
                self._connect(sock, address, deadline_ns)
                _prepare(sock)
            except PortMissing as error:
                sock.close()
                failure = error
            except OSError as error:
                sock.close()
                failure = self._unreached(error.errno)
                failure.__cause__ = error
            else:
                self._socket = sock
                return
        raise failure

    def close(self) -> None:
        sock, self._socket = self._socket, None
        if sock is not None:
            with contextlib.suppress(OSError):
                sock.close()

    def write(self, data: bytes, deadline_ns: int) -> None:
        """Send all of `data`.

        Raises
        ------
        Reopen
            Where the connection is gone, or takes no bytes until the deadline.
        """
        sock = self._opened()
        rest = memoryview(data)
        try:
            while True:
                with contextlib.suppress(BlockingIOError):
                    rest = rest[sock.send(rest) :]
                if not rest:
                    return
                wait_s = self._slice_s(deadline_ns)
                if wait_s <= 0.0:
                    raise Reopen(f"{self.place}: the connection takes no bytes: is it stuck?")
                select.select([], [sock], [], wait_s)
        except OSError as error:
            raise self._lost(inert(str(error))) from error

    def read(self, deadline_ns: int) -> bytes:
        """What has come, at once; or, before the deadline, the first bytes that come.

        Raises
        ------
        Reopen
            Where the connection is gone.
        """
        sock = self._opened()
        try:
            while True:
                try:
                    data = sock.recv(_CHUNK)
                except BlockingIOError:
                    wait_s = self._slice_s(deadline_ns)
                    if wait_s <= 0.0:
                        return b""
                    select.select([sock], [], [], wait_s)
                    continue
                if not data:
                    raise self._lost("the other end closed it")
                return data
        except OSError as error:
            raise self._lost(inert(str(error))) from error

    def _connect(self, sock: socket.socket, address: _SocketAddress, until: int) -> None:
        number = sock.connect_ex(address)
        while number in (errno.EINPROGRESS, errno.EWOULDBLOCK, errno.EAGAIN):
            wait_s = self._slice_s(until)
            if wait_s <= 0.0:
                raise PortMissing(
                    f"{self.place}: nothing answers: check that the supply is on, its network "
                    "cable, and the address"
                )
            if select.select([], [sock], [], wait_s)[1]:
                number = sock.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
        if number:
            raise self._unreached(number)

    def _slice_s(self, deadline_ns: int) -> float:
        return min((deadline_ns - self.clock.monotonic_ns()) / 1e9, SLICE_S)

    def _unreached(self, number: int | None) -> PortMissing:
        if number == errno.ECONNREFUSED:
            return PortMissing(
                f"{self.place}: the host is there, but nothing serves on that port: is the "
                "supply's network service on, and the port number right?"
            )
        reason = os.strerror(number) if number else "unknown"
        return PortMissing(f"{self.place}: cannot be reached ({reason}): check cable and address")

    def _lost(self, reason: str) -> Reopen:
        return Reopen(
            f"{self.place}: the connection is lost ({reason}): check the supply and the network "
            "cable; it is tried again by itself"
        )

    def _opened(self) -> socket.socket:
        if self._socket is None:
            raise Reopen(f"{self.place}: the connection is not open")
        return self._socket


def _prepare(sock: socket.socket) -> None:
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in (
        ("TCP_KEEPIDLE", KEEPALIVE_IDLE_S),
        ("TCP_KEEPINTVL", KEEPALIVE_EVERY_S),
        ("TCP_KEEPCNT", KEEPALIVE_PROBES),
        ("TCP_USER_TIMEOUT", UNACKNOWLEDGED_MS),
    ):
        if hasattr(socket, name):  # not every system has them
            sock.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)


class _LookUp:
    """Asks for a host's addresses; the system's own call may hang for half a minute.

    It runs in a thread that is waited for until the deadline; one that hangs is waited for
    again at the next try, so there is never more than one.
    """

    def __init__(self) -> None:
        self._thread: threading.Thread | None = None
        self._found: _Addresses = []
        self._failure: Exception | None = None

    def ask(self, host: str, port: int, clock: Clock, deadline_ns: int) -> _Addresses:
        with contextlib.suppress(*_NO_ADDRESS):
            return _addresses(host, port, socket.AI_NUMERICHOST)
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, args=(host, port), daemon=True)
            self._thread.start()
        while self._thread.is_alive():
            left_s = (deadline_ns - clock.monotonic_ns()) / 1e9
            if left_s <= 0.0:
                raise PortMissing(
                    f"{host}: no name server answers: write the supply's number instead of its "
                    "name, or check the network"
                )
            self._thread.join(min(left_s, SLICE_S))
        self._thread = None
        if self._failure is not None:
            raise PortMissing(
                f"{host}: there is no host of that name ({inert(str(self._failure))}): correct "
                "the supply's address, or write its number"
            ) from self._failure
        return self._found

    def _run(self, host: str, port: int) -> None:
        self._found, self._failure = [], None
        try:
            self._found = _addresses(host, port, 0)
        except _NO_ADDRESS as error:
            self._failure = error


def _addresses(host: str, port: int, flags: int) -> _Addresses:
    places = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=flags)
    # typeshed allows an address of bare bytes, which only AF_PACKET-like families give.
    return [(family, address) for family, _, _, _, address in places]  # type: ignore[misc]
