"""One HTTP connection to a server: each request has one deadline, each answer a greatest size."""

import selectors
import ssl
import threading
import zlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException, HTTPResponse
from socket import SHUT_RDWR, gaierror, socket
from urllib.parse import urlencode, urlsplit

MOST_BYTES = 8_192
"""Of an answer's body that are read; the words that are shown are far fewer."""
GZIP_OR_ZLIB = 47
"""Has zlib take both forms (zlib.decompressobj, wbits)."""


class NoAnswer(Exception):
    """No whole answer came; the message says why, in words for the operator."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a server said.

    Parameters
    ----------
    headers
        By their usual names, such as "Retry-After".
    body
        The first `MOST_BYTES` of it, unpacked.
    is_new_connection
        True where the connection that the last request left open was gone.
    """

    status: int
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = b""
    is_new_connection: bool = False

    def getheaders(self) -> Mapping[str, str]:
        """The headers; the client library asks for them by this name."""
        return self.headers


class Transport:
    """Sends requests to one server, one at a time.

    It takes the place of the client library's own transport, which reads an answer of any size,
    waits without end for one that drips, and raises a UnicodeDecodeError for a page that is not in
    UTF-8 (measured with influxdb-client 1.50.0). It never follows a redirect, and never asks twice.

    Parameters
    ----------
    url
        Such as "http://10.0.0.9:8428". Raises ValueError where it is none.
    timeout_s
        For all of one request: connection, TLS, sending, answer.
    """

    pool_manager = None
    """The client library asks for it when it is closed."""

    def __init__(self, url: str, timeout_s: float) -> None:
        parts = urlsplit(url)
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise ValueError("not an address that begins with http:// or https://")
        context = ssl.create_default_context() if parts.scheme == "https" else None
        self._connection = _Connection(parts.hostname, parts.port, timeout_s, context)
        self._timeout_s = timeout_s

    def POST(  # noqa: N802  # the client library calls it by this name
        self,
        url: str,
        query_params: Sequence[tuple[str, str]],
        headers: Mapping[str, str],
        body: bytes,
        **_: object,
    ) -> Answer:
        """Send a request and wait for the answer.

        Raises
        ------
        NoAnswer
            The network failed, or time was up.
        """
        connection = self._connection
        was_dropped = connection.is_dropped()
        if was_dropped:
            connection.close()
        connection.is_cut = False
        deadline = threading.Timer(self._timeout_s, connection.cut)
        deadline.daemon = True
        deadline.start()
        try:
            target = f"{urlsplit(url).path}?{urlencode(query_params)}"
            connection.request("POST", target, body, headers)
            response = connection.getresponse()
            answer_body = _bounded_body(response)
            if connection.is_cut:
                # What was read until then looks like a whole answer.
                raise TimeoutError
        except (OSError, HTTPException, ValueError) as failure:
            words = self._words_of(failure)
            connection.close()
            raise NoAnswer(words) from failure
        finally:
            deadline.cancel()
        if not response.isclosed():
            # The rest of it is not waited for.
            connection.close()
        headers = {name.title(): value for name, value in response.headers.items()}
        return Answer(response.status, headers, answer_body, was_dropped)

    def close(self) -> None:
        """Give the connection back."""
        self._connection.close()

    def _words_of(self, failure: Exception) -> str:
        connection = self._connection
        if connection.is_cut or isinstance(failure, TimeoutError):
            what = "answer" if connection.is_ready else "connection"
            return f"no {what} within {self._timeout_s:g} s"
        if connection.is_ready:
            return "the connection broke off"
        if isinstance(failure, ssl.SSLError):
            why = getattr(failure, "verify_message", "") or failure.reason or "no TLS there"
            return f"no safe connection (TLS failed: {why.lower().replace('_', ' ')})"
        if isinstance(failure, gaierror):
            return "no connection (no such host)"
        return "no connection (nothing answers at that address)"


class _Connection(HTTPConnection):
    """A connection that another thread can cut, in whatever it waits."""

    def __init__(
        self, host: str, port: int | None, timeout_s: float, context: ssl.SSLContext | None
    ) -> None:
        if context is not None:
            self.default_port = 443
        super().__init__(host, port, timeout=timeout_s)
        self._context = context
        # Kept apart from `sock`, which http.client lets go of while an answer is still read.
        self._line: socket | None = None
        self.is_ready = self.is_cut = False

    def connect(self) -> None:
        self.is_ready = False
        super().connect()
        if self._context is not None:
            # The handshake apart, so that a server that drips it is cut as well.
            self.sock = self._context.wrap_socket(
                self.sock, server_hostname=self.host, do_handshake_on_connect=False
            )
        self._line = self.sock
        if isinstance(self.sock, ssl.SSLSocket):
            self.sock.do_handshake()
        self.is_ready = True

    def cut(self) -> None:
        """Close the connection, also while another thread waits for it."""
        self.is_cut = True
        if self._line is not None:
            with suppress(OSError):
                # Not SSLSocket's own, which takes TLS away from under the other thread.
                socket.shutdown(self._line, SHUT_RDWR)

    def is_dropped(self) -> bool:
        """Whether the other end has closed what the last request left open."""
        if self.sock is None:
            return False
        with selectors.DefaultSelector() as selector:
            selector.register(self.sock, selectors.EVENT_READ)
            return bool(selector.select(timeout=0.0))


def _bounded_body(response: HTTPResponse) -> bytes:
    body = response.read(MOST_BYTES)
    if not response.headers.get("Content-Encoding"):
        return body
    with suppress(zlib.error):
        return zlib.decompressobj(GZIP_OR_ZLIB).decompress(body, MOST_BYTES)
    return body
