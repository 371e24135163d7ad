"""The TCP link on the loopback: deadlines, keep-alive, and every way in which it fails."""

import socket
import struct
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from drivers.errors import PortMissing, Reopen
from drivers.link import tcp_link
from drivers.link.link import after
from drivers.link.tcp_link import TcpLink

CLOCK = SystemClock()


@pytest.fixture
def server() -> Iterator[socket.socket]:
    with socket.create_server(("127.0.0.1", 0)) as made:
        yield made


@pytest.fixture
def link(server: socket.socket) -> Iterator[TcpLink]:
    made = TcpLink("127.0.0.1", server.getsockname()[1], CLOCK)
    made.open(after(CLOCK, 1.0))
    yield made
    made.close()


@pytest.fixture
def other(server: socket.socket, link: TcpLink) -> Iterator[socket.socket]:
    accepted, _ = server.accept()
    with accepted:
        yield accepted


def test_bytes_go_both_ways(link: TcpLink, other: socket.socket) -> None:
    link.write(b"*IDN?\n", after(CLOCK, 1.0))
    assert other.recv(100) == b"*IDN?\n"
    other.sendall(bytes(range(256)))
    got = b""
    while len(got) < 256:
        got += link.read(after(CLOCK, 1.0))
    assert got == bytes(range(256))
    assert link.read(0) == b""


def test_silence_ends_at_the_deadline(link: TcpLink, other: socket.socket) -> None:
    deadline_ns = after(CLOCK, 0.05)
    assert link.read(deadline_ns) == b""
    assert CLOCK.monotonic_ns() >= deadline_ns


def test_a_connection_that_takes_no_bytes_is_given_up(link: TcpLink, other: socket.socket) -> None:
    with pytest.raises(Reopen, match="takes no bytes"):
        link.write(b"x" * 50_000_000, after(CLOCK, 0.05))


def test_the_other_end_closing_is_a_reopen(link: TcpLink, other: socket.socket) -> None:
    other.close()
    with pytest.raises(Reopen, match="the other end closed it"):
        link.read(after(CLOCK, 1.0))


def test_a_reset_is_a_reopen_whatever_is_called(link: TcpLink, other: socket.socket) -> None:
    other.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    other.close()
    with pytest.raises(Reopen, match="connection is lost"):
        link.read(after(CLOCK, 1.0))
    with pytest.raises(Reopen, match="connection is lost"):
        link.write(b"*IDN?\n", after(CLOCK, 1.0))
    link.close()
    link.close()
    with pytest.raises(Reopen, match="not open"):
        link.write(b"*IDN?\n", after(CLOCK, 1.0))


def test_nothing_serving_there_is_told_apart_from_nobody_there(server: socket.socket) -> None:
    port = server.getsockname()[1]
    server.close()
    with pytest.raises(PortMissing, match="nothing serves on that port"):
        TcpLink("127.0.0.1", port, CLOCK).open(after(CLOCK, 1.0))


def test_a_connection_that_is_never_taken_ends_at_the_deadline() -> None:
    """A full queue of a listening socket answers no further connection, as a dead host."""
    with socket.socket() as full:
        full.bind(("127.0.0.1", 0))
        full.listen(0)
        address = full.getsockname()
        waiting = [TcpLink("127.0.0.1", address[1], CLOCK) for _ in range(4)]
        outcomes = []
        for link in waiting:
            try:
                link.open(after(CLOCK, 0.05))
            except PortMissing as error:
                outcomes.append(str(error))
        for link in waiting:
            link.close()
    assert outcomes
    assert all("nothing answers" in outcome for outcome in outcomes)


def test_a_dead_connection_is_noticed_in_seconds(link: TcpLink, other: socket.socket) -> None:
    """Linux tcp(7): options by which a cable pulled out is seen without a byte coming."""
    one = link._socket
    assert one is not None
    assert one.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
    assert one.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) == 1
    options = (socket.TCP_KEEPIDLE, socket.TCP_KEEPINTVL, socket.TCP_KEEPCNT)
    idle, every, probes = (one.getsockopt(socket.IPPROTO_TCP, option) for option in options)
    assert idle + every * probes <= 15
    assert 0 < one.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT) <= 10_000


def test_a_name_is_looked_up() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = TcpLink("localhost", server.getsockname()[1], CLOCK)
        link.open(after(CLOCK, 5.0))
        link.close()


@pytest.mark.parametrize("failure", [socket.gaierror(-2, "Name or service not known"), "a" * 70])
def test_a_name_that_nobody_knows_is_told(
    failure: OSError | str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if isinstance(failure, OSError):
        unknown = failure

        def look_up(host: str, port: int, flags: int) -> object:
            raise unknown

        monkeypatch.setattr(tcp_link, "_addresses", look_up)
    name = "no-such-supply" if isinstance(failure, OSError) else f"{failure}.local"
    with pytest.raises(PortMissing, match="there is no host of that name"):
        TcpLink(name, 5025, CLOCK).open(after(CLOCK, 5.0))


def test_a_name_server_that_hangs_is_left_at_the_deadline_and_asked_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    release = threading.Event()
    asked: list[str] = []

    def hangs(host: str, port: int, flags: int) -> object:
        if flags:
            raise OSError
        asked.append(host)
        release.wait(10.0)
        return []

    monkeypatch.setattr(tcp_link, "_addresses", hangs)
    link = TcpLink("bench-supply", 5025, CLOCK)
    before = threading.active_count()
    for _ in range(5):
        with pytest.raises(PortMissing, match="no name server answers"):
            link.open(after(CLOCK, 0.02))
    assert asked == ["bench-supply"]
    assert threading.active_count() == before + 1
    release.set()
    with pytest.raises(PortMissing, match="no address"):
        link.open(after(CLOCK, 5.0))
    assert threading.active_count() == before


def test_opening_and_failing_leak_nothing(server: socket.socket) -> None:
    port = server.getsockname()[1]

    def once() -> None:
        link = TcpLink("127.0.0.1", port, CLOCK)
        link.open(after(CLOCK, 1.0))
        accepted, _ = server.accept()
        accepted.close()
        with pytest.raises(Reopen):
            link.read(after(CLOCK, 1.0))
        link.close()
        with pytest.raises(PortMissing):
            TcpLink("127.0.0.1", 1, CLOCK).open(after(CLOCK, 1.0))

    once()
    before = len(list(Path("/proc/self/fd").iterdir())), threading.active_count()
    for _ in range(100):
        once()
    assert (len(list(Path("/proc/self/fd").iterdir())), threading.active_count()) == before
