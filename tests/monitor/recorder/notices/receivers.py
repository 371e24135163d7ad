"""The other end of a webhook, on the loopback: answers what a test wants, or nothing at all."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field


@dataclass
class Receiver:
    """Where it listens, what it answers, and what it was sent."""

    url: str
    answer: bytes
    bodies: list[str] = field(default_factory=list)
    came: threading.Event = field(default_factory=threading.Event)
    held: list[socket.socket] = field(default_factory=list)


def http(status: str, body: str = "") -> bytes:
    """An HTTP/1.1 answer (RFC 9112)."""
    return f"HTTP/1.1 {status}\r\nContent-Length: {len(body)}\r\n\r\n{body}".encode()


@contextmanager
def receiver(answer: bytes = b"") -> Iterator[Receiver]:
    """Listen; an empty answer accepts, reads and never says a word."""
    listener = socket.create_server(("127.0.0.1", 0))
    one = Receiver(f"http://127.0.0.1:{listener.getsockname()[1]}/notices", answer)

    def serve() -> None:
        while True:
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            one.held.append(connection)
            with_body(connection)

    def with_body(connection: socket.socket) -> None:
        connection.settimeout(5.0)
        data = b""
        while b"\r\n\r\n" not in data:
            data += connection.recv(65536) or b"\r\n\r\n"
        head, _, body = data.partition(b"\r\n\r\n")
        length = next(
            (int(line.split(b":")[1]) for line in head.split(b"\r\n") if b"ength:" in line), 0
        )
        while len(body) < length:
            body += connection.recv(65536)
        one.bodies.append(body.decode("utf-8", "replace"))
        one.came.set()
        if one.answer:
            # A caller that did not like what it heard is gone.
            with suppress(OSError):
                connection.sendall(one.answer)
                connection.shutdown(socket.SHUT_WR)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield one
    finally:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join(5.0)
        for connection in one.held:
            connection.close()
