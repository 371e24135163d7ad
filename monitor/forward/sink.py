"""Lines in, a reply out: the one place that knows the client library and the network."""

from collections.abc import Sequence
from typing import Protocol

from monitor.base.errors import WrongUse
from monitor.base.secret import HiddenInLogs, Secret
from monitor.forward.reply import Meaning, Reply, one_line, reply_of

TIMEOUT_MS = 5_000


class Sink(Protocol):
    """Takes lines; never raises for what a server or network does."""

    def write(self, lines: Sequence[str]) -> Reply:
        """Write a batch and wait for the reply."""
        ...

    def close(self) -> None:
        """Give the connection back."""
        ...


class ServerSink:
    """A server that takes the write interface of InfluxDB v2.

    Parameters
    ----------
    url
        Such as "http://10.0.0.9:8428".
    org, bucket
        As the server names them.
    token
        Sent with every write; none where it is empty.
    gzip
        Whether the lines are packed on the way.
    """

    def __init__(self, url: str, org: str, bucket: str, token: Secret, gzip: bool = True) -> None:
        # 0.2 s and 50 MB: only the forwarder's process pays for it.
        from influxdb_client.client.influxdb_client import InfluxDBClient
        from influxdb_client.client.write_api import SYNCHRONOUS

        self._org, self._bucket, self._token = org, bucket, token
        try:
            self._client = InfluxDBClient(
                url, token.reveal(), org=org, timeout=TIMEOUT_MS, enable_gzip=gzip
            )
        except ValueError as error:
            raise WrongUse(f"forward.url is not understood: {one_line(str(error))}") from None
        self._writes = self._client.write_api(write_options=SYNCHRONOUS)
        self._url = url
        self._logs = HiddenInLogs(token)
        self._socket: object | None = None

    def write(self, lines: Sequence[str]) -> Reply:
        from influxdb_client.client.exceptions import InfluxDBError
        from influxdb_client.domain.write_precision import WritePrecision
        from influxdb_client.rest import ApiException
        from urllib3.exceptions import HTTPError

        kept, self._socket = self._socket, None
        try:
            self._writes.write(self._bucket, self._org, "\n".join(lines), WritePrecision.NS)  # type: ignore[arg-type]  # the library types its names as str
        except ApiException as refusal:
            reply = reply_of(int(refusal.status or 0), refusal.headers or {}, refusal.body)
            words = self._token.hidden_in(reply.words)
            return Reply(reply.meaning, reply.status, words, reply.retry_after_s)
        except (HTTPError, InfluxDBError, OSError) as failure:
            return Reply(Meaning.UNREACHABLE, None, self._token.hidden_in(_words_of(failure)))
        self._socket = self._open_socket()
        is_new = kept is not None and kept is not self._socket
        return Reply(Meaning.TAKEN, 204, is_new_connection=is_new)

    def close(self) -> None:
        self._logs.close()
        self._writes.close()  # type: ignore[no-untyped-call]  # the library types it not
        self._client.close()  # type: ignore[no-untyped-call]  # the library types it not

    def _open_socket(self) -> object | None:
        """The socket that the last write left open for the next one; None where it was closed.

        Another one next time means that the server closed this one: it may have been killed and
        started again between two writes, with the loss of what it had not yet put on its disk.
        """
        manager = self._client.api_client.rest_client.pool_manager
        pool = manager.connection_from_url(self._url).pool
        connections = [] if pool is None else [one for one in pool.queue if one is not None]
        found: object | None = getattr(connections[-1], "sock", None) if connections else None
        return found


def _words_of(failure: Exception) -> str:
    """A failure of the network, by the name of its kind: its text repeats addresses of objects."""
    known = {
        "NewConnectionError": "no connection (nothing answers at that address)",
        "NameResolutionError": "no connection (no such host)",
        "ConnectTimeoutError": f"no connection within {TIMEOUT_MS / 1000:g} s",
        "ReadTimeoutError": f"no answer within {TIMEOUT_MS / 1000:g} s",
        "ProtocolError": "the connection broke off",
        "SSLError": "no safe connection (TLS failed)",
    }
    name = type(failure).__name__
    return known.get(name) or one_line(f"{name}: {failure}")
