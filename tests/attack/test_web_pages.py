"""A web page of a stranger against the browser screen: it sees nothing and drives nothing."""

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from monitor.base.program import own_command
from monitor.model.request import RequestKind
from monitor.model.run import RunFacts
from monitor.store.requests import LOOK_ONLY, LookOnly, RequestBox
from monitor.store.writer import StoreWriter
from tests.servers.ports import free_port
from tests.whole.processes import PATIENCE_S, wait_until
from tui.serving import MOST_SCREENS, Door

WEBSOCKET = {
    "Upgrade": "websocket",
    "Connection": "Upgrade",
    "Sec-WebSocket-Version": "13",
    # RFC 6455, 1.3: the example's own key.
    "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
}


class Served:
    """The list of runs, served to browsers by a process of its own."""

    def __init__(self, store: Path, begun_by: int | None = None) -> None:
        self.port = free_port()
        self.store = store
        line = own_command("tui", "runs", "--store", str(store), "--serve", self.place)
        line += [] if begun_by is None else ["--begun-by", str(begun_by)]
        self.process = subprocess.Popen(line, stderr=subprocess.PIPE, text=True)
        self.token = self.next_token()

    @property
    def place(self) -> str:
        return f"127.0.0.1:{self.port}"

    def next_token(self) -> str:
        assert self.process.stderr is not None
        line = self.process.stderr.readline()
        match = re.search(rf"http://{self.place}/\?token=(\S+)", line)
        assert match is not None, line
        return match[1]

    def get(self, path: str, **headers: str) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        connection.request("GET", path, headers={"Host": self.place, **headers})
        answer = connection.getresponse()
        answer.read()
        connection.close()
        return answer

    def let_in(self) -> str:
        answer = self.get(f"/?token={self.token}")
        assert answer.status == 303
        cookie = answer.headers["Set-Cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=Strict" in cookie
        self.token = self.next_token()
        return cookie.partition(";")[0]

    def open_screen(self, headers: Mapping[str, str]) -> tuple[int, socket.socket]:
        """Ask for a WebSocket; the status, and the socket."""
        line = socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE_S)
        asked = {"Host": self.place, **WEBSOCKET, **headers}
        head = "".join(f"{name}: {value}\r\n" for name, value in asked.items())
        line.sendall(f"GET /ws?width=80&height=24 HTTP/1.1\r\n{head}\r\n".encode())
        with line.makefile("rb") as answer:
            status = int(answer.readline().split()[1])
        return status, line

    def is_closed(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
        except OSError:
            return True
        return False

    def tabs(self) -> list[int]:
        """The processes that show this store's runs, but for the server."""
        shown = []
        for folder in Path("/proc").iterdir():
            try:
                words = (folder / "cmdline").read_bytes().decode().split("\0")
            except OSError:
                continue
            if str(self.store) in words and "--glyphs" in words:
                shown.append(int(folder.name))
        return shown


@contextmanager
def served(store: Path) -> Iterator[Served]:
    one = Served(store)
    try:
        yield one
    finally:
        one.process.terminate()
        one.process.communicate(timeout=PATIENCE_S)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("served") / "runs.db"
    with StoreWriter(path) as writer:
        writer.begin_run(RunFacts("bench-1", "scpi:/dev/x", 10.0), clock=SystemClock(), program="x")
    return path


@pytest.fixture(scope="module")
def screen(store: Path) -> Iterator[Served]:
    with served(store) as one:
        yield one


def test_the_address_opens_once_and_the_next_is_printed(screen: Served) -> None:
    used = screen.token
    cookie = screen.let_in()
    assert screen.token != used
    assert screen.get(f"/?token={used}").status == 403
    page = screen.get("/", Cookie=cookie)
    assert page.status == 200
    assert "default-src 'self'" in page.headers["Content-Security-Policy"]
    assert page.headers["Referrer-Policy"] == "no-referrer"


@pytest.mark.parametrize("path", ["/", "/?token=", "/?token=x", "/static/js/textual.js", "/ws"])
def test_without_the_token_there_is_nothing(screen: Served, path: str) -> None:
    assert screen.get(path).status == 403
    assert screen.get(path, Cookie="bathvigil=x").status == 403


@pytest.mark.parametrize(
    "origin", ["http://evil.test", "null", "https://{place}", "http://x{place}"]
)
def test_a_page_of_another_site_is_refused_even_with_the_cookie(
    screen: Served, origin: str
) -> None:
    cookie = screen.let_in()
    foreign = origin.format(place=screen.place)
    assert screen.get("/", Cookie=cookie, Origin=foreign).status == 403
    status, line = screen.open_screen({"Cookie": cookie, "Origin": foreign})
    line.close()
    assert status == 403


@pytest.mark.parametrize("host", ["evil.test", "evil.test:{port}", "127.0.0.1", "", "127.0.0.1:1"])
def test_a_name_that_a_stranger_lets_lead_here_is_refused(screen: Served, host: str) -> None:
    cookie = screen.let_in()
    foreign = host.format(port=screen.port)
    assert screen.get("/", Cookie=cookie, Host=foreign).status in (400, 403)
    origin = f"http://{foreign}"
    status, line = screen.open_screen({"Cookie": cookie, "Host": foreign, "Origin": origin})
    line.close()
    assert status in (400, 403)


def test_a_screen_needs_cookie_and_origin_and_there_are_few(store: Path) -> None:
    with served(store) as screen:
        cookie, origin = screen.let_in(), f"http://{screen.place}"
        for headers in ({"Cookie": cookie}, {"Origin": origin}, {}):
            status, line = screen.open_screen(headers)
            line.close()
            assert status == 403
        lines = []
        for _ in range(MOST_SCREENS):
            status, line = screen.open_screen({"Cookie": cookie, "Origin": origin})
            assert status == 101
            lines.append(line)
        status, line = screen.open_screen({"Cookie": cookie, "Origin": origin})
        assert status == 503
        for one in (line, *lines):
            one.close()
        wait_until("the tabs to end", lambda: not screen.tabs())

        def is_let_in() -> bool:
            status, line = screen.open_screen({"Cookie": cookie, "Origin": origin})
            line.close()
            return status == 101

        wait_until("a place", is_let_in)


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for processes in /proc")
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGHUP, signal.SIGTERM])
def test_no_process_is_left_behind(store: Path, number: signal.Signals) -> None:
    """Whatever ends the server, a tab's own process ends with it."""
    screen = Served(store)
    try:
        cookie = screen.let_in()
        status, line = screen.open_screen({"Cookie": cookie, "Origin": f"http://{screen.place}"})
        assert status == 101
        wait_until("its tab", lambda: bool(screen.tabs()))
        os.kill(screen.process.pid, number)
        wait_until("the end of the server", screen.is_closed)
        wait_until("the end of the tab", lambda: not screen.tabs())
        line.close()
    finally:
        screen.process.kill()
        screen.process.communicate(timeout=PATIENCE_S)


def test_the_server_ends_with_the_command_that_began_it(store: Path, tmp_path: Path) -> None:
    port = free_port()
    line = own_command("tui", "runs", "--store", str(store), "--serve", f"127.0.0.1:{port}")
    code = "import os, subprocess, sys, time; subprocess.Popen(sys.argv[1:] + ['--begun-by', "
    code += "str(os.getpid())]); time.sleep(600)"
    command = subprocess.Popen(
        [sys.executable, "-c", code, *line], stderr=subprocess.PIPE, text=True
    )
    assert command.stderr is not None
    assert f"127.0.0.1:{port}" in command.stderr.readline()
    command.kill()
    command.wait(PATIENCE_S)

    def is_closed() -> bool:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            return True
        return False

    wait_until("the end of the server", is_closed)
    command.stderr.close()


def test_a_browser_that_only_looks_adds_nothing(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(LOOK_ONLY, "1")
    with pytest.raises(LookOnly, match="--may-act"):
        RequestBox(store).ask(1, RequestKind.ACKNOWLEDGE, "tripped#1")
    monkeypatch.setenv(LOOK_ONLY, "")
    assert RequestBox(store).ask(1, RequestKind.MARK) == 1


@pytest.mark.parametrize(
    ("listens", "host", "is_ours"),
    [
        ("0.0.0.0", "192.168.1.9:80", True),
        ("0.0.0.0", "evil.test:80", False),
        ("0.0.0.0", "[fe80::1]:80", True),
        ("bench.local", "BENCH.local:80", True),
        ("bench.local", "bench.local.evil.test:80", False),
        ("127.0.0.1", "localhost:80", True),
        ("127.0.0.1", "localhost:81", False),
        ("127.0.0.1", "127.0.0.1", True),
        ("::1", "[::1]", True),
        ("127.0.0.1", "evil.test", False),
    ],
)
def test_which_names_are_ours(listens: str, host: str, is_ours: bool) -> None:
    assert Door(listens, 80, lambda address: None).is_our_name(host) is is_ours
