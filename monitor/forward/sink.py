"""Where lines go: the one place that knows the client library."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from monitor.base.errors import WrongUse
from monitor.base.secret import Secret
from monitor.forward.reply import Meaning, Reply, one_line, reply_of
from monitor.forward.transport import Answer, NoAnswer, Transport

TIMEOUT_S = 5.0


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

    The client library makes the request, and `Transport` carries it.

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

        try:
            self._transport = Transport(url, TIMEOUT_S)
        except ValueError as error:
            raise WrongUse(f"forward.url is not understood: {one_line(str(error))}") from None
        self._org, self._bucket, self._token = org, bucket, token
        self._client = InfluxDBClient(url, token.reveal(), org=org, enable_gzip=gzip)
        self._client.api_client.rest_client = self._transport  # type: ignore[assignment]  # ours
        self._writes = self._client.write_api(write_options=SYNCHRONOUS)

    def write(self, lines: Sequence[str]) -> Reply:
        from influxdb_client.domain.write_precision import WritePrecision

        try:
            self._writes.write(self._bucket, self._org, "\n".join(lines), WritePrecision.NS)  # type: ignore[arg-type]  # the library types its names as str
        except NoAnswer as failure:
            return Reply(Meaning.UNREACHABLE, None, self._token.hidden_in(str(failure)))
        answer = self._client.api_client.last_response
        assert isinstance(answer, Answer)
        reply = reply_of(answer.status, answer.headers, answer.body)
        words = self._token.hidden_in(reply.words)
        return replace(reply, words=words, is_new_connection=answer.is_new_connection)

    def close(self) -> None:
        self._writes.close()  # type: ignore[no-untyped-call]  # the library types it not
        self._client.close()  # type: ignore[no-untyped-call]  # the library types it not
        self._transport.close()
