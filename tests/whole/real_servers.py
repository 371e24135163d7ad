"""Real servers of Debian's packages, started on loopback by a test and ended by it.

`victoria-metrics` 1.79.5 takes the v2 write interface itself. `influxdb` 1.6.7 is older than that
interface: a small proxy hands /api/v2/write on to /write.
"""

import http.client
import json
import shutil
import signal
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, quote, urlencode, urlsplit
from urllib.request import urlopen

from tests.servers.ports import free_port

PATIENCE_S = 20.0
PACKAGES = {"influxd": "influxdb", "soffice": "libreoffice-calc"}
"""Of Debian, where they are not named as the program."""

Series = dict[tuple[tuple[str, str], ...], dict[int, float | str]]
"""Values by tags and time (milliseconds, or nanoseconds where the server keeps them)."""


def missing(program: str) -> str | None:
    """Why the tests of a real program cannot run here; None where they can."""
    if shutil.which(program):
        return None
    return f"{program} is not installed: apt-get install {PACKAGES.get(program, program)}"


@dataclass
class Victoria:
    """One VictoriaMetrics process with its folder; can be killed and started again."""

    folder: Path
    port: int
    process: "subprocess.Popen[bytes] | None" = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        self.process = subprocess.Popen(
            [
                "victoria-metrics",
                f"-storageDataPath={self.folder}",
                f"-httpListenAddr=127.0.0.1:{self.port}",
                "-retentionPeriod=10y",
                "-dedup.minScrapeInterval=1ms",
                "-loggerLevel=ERROR",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _wait_for(self.port, "/health")

    def kill(self) -> None:
        """As a power cut would: no goodbye, nothing put on the disk."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(PATIENCE_S)

    def end(self) -> None:
        assert self.process is not None
        self.process.terminate()
        self.process.wait(PATIENCE_S)

    def read(self, name: str) -> Series:
        """All values of one series name, by tags and milliseconds."""
        with urlopen(f"{self.url}/internal/force_flush"):
            pass
        found: Series = {}
        # Without an end it leaves the newest second out.
        asked_for = urlencode({"match[]": name, "start": 0, "end": round(time.time()) + 86_400})
        asked = f"{self.url}/api/v1/export?{asked_for}"
        with urlopen(asked) as answer:
            for text in answer:
                told = json.loads(text)
                tags = {k: v for k, v in told["metric"].items() if k not in ("__name__", "db")}
                values = found.setdefault(tuple(sorted(tags.items())), {})
                for at, value in zip(told["timestamps"], told["values"], strict=True):
                    assert at not in values, "the same moment twice"
                    values[at] = value
        return found


@contextmanager
def victoria(folder: Path) -> Iterator[Victoria]:
    server = Victoria(folder, free_port())
    server.start()
    try:
        yield server
    finally:
        server.end()


@dataclass
class Influx:
    """One influxd 1.6.7 behind the proxy."""

    url: str
    port: int

    def read(self, measurement: str, field: str, tags: tuple[str, ...]) -> Series:
        """All values of one field, by tags and nanoseconds."""
        question = f'SELECT "{field}" FROM "{measurement}" GROUP BY {",".join(tags)}'
        asked = f"http://127.0.0.1:{self.port}/query?db=benches&epoch=ns&q={quote(question)}"
        with urlopen(asked) as answer:
            told = json.load(answer)
        return {
            tuple(sorted(one["tags"].items())): dict(one["values"])
            for one in told["results"][0].get("series", [])
        }


@contextmanager
def influx(folder: Path) -> Iterator[Influx]:
    """influxd with the database "benches", and the proxy in front of it."""
    port, rpc = free_port(), free_port()
    settings = folder / "influxdb.conf"
    settings.write_text(
        f"""
        reporting-disabled = true
        bind-address = "127.0.0.1:{rpc}"
        [meta]
        dir = "{folder}/meta"
        [data]
        dir = "{folder}/data"
        wal-dir = "{folder}/wal"
        query-log-enabled = false
        [monitor]
        store-enabled = false
        [http]
        bind-address = "127.0.0.1:{port}"
        log-enabled = false
        """
    )
    process = subprocess.Popen(
        ["influxd", "-config", str(settings)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        _wait_for(port, "/ping")
        _ask(port, "CREATE DATABASE benches")
        give_up = time.monotonic() + PATIENCE_S
        # On a busy machine it has answered before it would take a point.
        while "benches" not in _ask(port, "SHOW DATABASES"):
            assert time.monotonic() < give_up, "influxd made no database"
            time.sleep(0.02)
        with _proxy(port) as url:
            yield Influx(url, port)
    finally:
        process.terminate()
        process.wait(PATIENCE_S)


def _ask(port: int, question: str) -> str:
    with urlopen(f"http://127.0.0.1:{port}/query?q={quote(question)}", data=b"") as answer:
        words: str = answer.read().decode()
    assert "error" not in words, words
    return words


@contextmanager
def _proxy(port: int) -> Iterator[str]:
    """Hands /api/v2/write on to /write; bodies, gzip and answers as they are."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        disable_nagle_algorithm = True

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            parts = urlsplit(self.path)
            asked = {key: values[0] for key, values in parse_qs(parts.query).items()}
            if parts.path != "/api/v2/write":
                self.send_error(404)
                return
            database, _, policy = asked["bucket"].partition("/")
            question = {"db": database, "precision": asked["precision"]}
            if policy:
                question["rp"] = policy
            kept = {"Content-Encoding": self.headers.get("Content-Encoding", "identity")}
            server = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
            try:
                server.request("POST", f"/write?{urlencode(question)}", body, kept)
                answer = server.getresponse()
                words = answer.read()
            finally:
                server.close()
            self.send_response(answer.status)
            self.send_header("Content-Length", str(len(words)))
            self.end_headers()
            self.wfile.write(words)

        def log_request(self, code: object = "-", size: object = "-") -> None:
            return

    class Proxy(ThreadingHTTPServer):
        daemon_threads = True

    proxy = Proxy(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=proxy.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{proxy.server_address[1]}"
    finally:
        proxy.shutdown()
        proxy.server_close()
        thread.join()


def _wait_for(port: int, path: str) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while time.monotonic() < give_up:
        try:
            with urlopen(f"http://127.0.0.1:{port}{path}", timeout=1):
                return
        except OSError:
            time.sleep(0.02)
    raise AssertionError(f"no server on port {port} within {PATIENCE_S:g} s")
