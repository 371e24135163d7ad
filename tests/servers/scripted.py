"""A server in this process that answers by a script, keeps what it takes, is strict of types."""

import gzip
import json
import socket
import struct
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from enum import Enum, auto
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

from tests.servers.lines import Value, parse

DRIP_S = 0.02
"""Between two bytes of an answer that drips."""


class Cut(Enum):
    """What a network or a dying server does instead of answering."""

    RESET = auto()
    """Resets the connection without taking anything."""
    RESET_AFTER = auto()
    """Takes the points, and resets the connection instead of saying so."""
    HANG = auto()
    """Never answers."""
    DRIP = auto()
    """Begins to refuse, and goes on byte by byte without end."""
    DRIP_HEAD = auto()
    """The same within its headers."""


@dataclass(frozen=True, slots=True)
class Answer:
    """An HTTP answer; 204 takes the points."""

    status: int
    body: str | bytes = ""
    headers: tuple[tuple[str, str], ...] = ()


Series = tuple[str, tuple[tuple[str, str], ...]]
Judge = Callable[[str], str | None]
"""Why a line is refused; None where it is taken."""


def refusal(message: str) -> str:
    """An error as the v2 interface writes it."""
    return json.dumps({"code": "invalid", "message": message})


@dataclass
class ScriptedServer:
    """Answers the next write with the next of `script`, and with `judge` once that is empty.

    Parameters
    ----------
    judge
        Refuses single lines; the whole batch is then refused with the first one's words.
    keeps_the_rest
        True for a server that keeps the good part of a batch and says how many it dropped.
    largest
        Lines of one request that it takes; None where any number.
    """

    script: list[Answer | Cut] = field(default_factory=list)
    judge: Judge | None = None
    keeps_the_rest: bool = False
    largest: int | None = None
    points: dict[tuple[Series, int], dict[str, Value]] = field(default_factory=dict)
    order: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)
    authorizations: list[str] = field(default_factory=list)
    url: str = ""
    sizes: list[int] = field(default_factory=list)
    _types: dict[tuple[str, str], type] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _open: list[socket.socket] = field(default_factory=list)
    _over: threading.Event = field(default_factory=threading.Event)

    def take(self, lines: list[str]) -> Answer:
        """Judge a batch and keep it."""
        if self.largest is not None and len(lines) > self.largest:
            return Answer(413, "too large")
        refused = {line: why for line in lines if (why := self._why_not(line)) is not None}
        if refused and not self.keeps_the_rest:
            return Answer(422, refusal(next(iter(refused.values()))))
        for line in lines:
            if line not in refused:
                self.keep(line)
        if refused:
            why = f"partial write: {next(iter(refused.values()))} dropped={len(refused)}"
            return Answer(400, refusal(why))
        return Answer(204)

    def keep(self, line: str) -> None:
        measurement, tags, fields, time_ns = parse(line)
        self.points.setdefault(((measurement, tags), time_ns), {}).update(fields)
        self.order.append(line)

    def _why_not(self, line: str) -> str | None:
        try:
            measurement, _, fields, _ = parse(line)
        except ValueError as error:
            return f"unable to parse '{line}': {error}"
        for name, value in fields.items():
            known = self._types.setdefault((measurement, name), type(value))
            if known is not type(value):
                return f'field type conflict: input field "{name}" is type {type(value)}'
        return None if self.judge is None else self.judge(line)

    def answer(self, target: str, authorization: str, body: bytes) -> Answer | Cut:
        """One write; the lock keeps requests apart."""
        with self._lock:
            self.requests.append(target)
            self.authorizations.append(authorization)
            lines = body.decode("utf-8").split("\n")
            self.sizes.append(len(lines))
            asked = parse_qs(urlsplit(target).query)
            if urlsplit(target).path != "/api/v2/write" or asked.get("precision") != ["ns"]:
                return Answer(404, refusal("not found: ask /api/v2/write?precision=ns"))
            next_one = self.script.pop(0) if self.script else None
            if next_one is None:
                return self.take(lines)
            if next_one is Cut.RESET_AFTER or (
                isinstance(next_one, Answer) and next_one.status == 204
            ):
                for line in lines:
                    self.keep(line)
            return next_one

    def wait_for_the_end(self, seconds: float = 30.0) -> bool:
        return self._over.wait(seconds)

    def drop_connections(self) -> None:
        """Close what is open and idle, as a server that is started anew does."""
        while self._open:
            with suppress(OSError):
                self._open.pop().shutdown(socket.SHUT_RDWR)

    def end(self) -> None:
        self._over.set()


@contextmanager
def scripted(
    script: list[Answer | Cut] | None = None,
    judge: Judge | None = None,
    keeps_the_rest: bool = False,
    largest: int | None = None,
) -> Iterator[ScriptedServer]:
    """A scripted server on a free port of loopback."""
    state = ScriptedServer(list(script or []), judge, keeps_the_rest, largest)

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        disable_nagle_algorithm = True

        def setup(self) -> None:
            super().setup()
            state._open.append(self.connection)

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            if self.headers.get("Content-Encoding") == "gzip":
                body = gzip.decompress(body)
            answer = state.answer(self.path, self.headers.get("Authorization", ""), body)
            if isinstance(answer, Answer):
                self._say(answer)
                return
            if answer is Cut.HANG:
                state.wait_for_the_end()
            if answer in (Cut.DRIP, Cut.DRIP_HEAD):
                self._drip(b"X: " if answer is Cut.DRIP_HEAD else b"Content-Length: 9999\r\n\r\n")
            # A close with this option sends a reset instead of an orderly end (socket(7)).
            linger = struct.pack("ii", 1, 0)
            self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
            self.close_connection = True

        def _drip(self, last: bytes) -> None:
            self.wfile.write(b"HTTP/1.1 400 Bad Request\r\n" + last)
            with suppress(OSError):
                while not state.wait_for_the_end(DRIP_S):
                    self.wfile.write(b"x")

        def _say(self, answer: Answer) -> None:
            payload = answer.body.encode() if isinstance(answer.body, str) else answer.body
            self.send_response(answer.status)
            for name, value in answer.headers:
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(payload)))
            self.end_headers()
            self.wfile.write(payload)

        def log_request(self, code: object = "-", size: object = "-") -> None:
            return

    class Server(ThreadingHTTPServer):
        daemon_threads = True

        def shutdown_request(self, request: object) -> None:
            # No orderly shutdown first: it would say goodbye where a reset is wanted.
            assert isinstance(request, socket.socket)
            request.close()

    server = Server(("127.0.0.1", 0), Handler)
    state.url = f"http://127.0.0.1:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    try:
        yield state
    finally:
        state.end()
        server.shutdown()
        server.server_close()
        thread.join()
