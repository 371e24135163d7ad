"""The screens in a real browser: headless Chromium shows the live state and sends a key."""

import base64
import json
import os
import re
import socket
import struct
import subprocess
import sys
import tempfile
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.model.request import RequestKind
from monitor.store.reader import open_store
from tests.servers.ports import free_port
from tests.whole.processes import PATIENCE_S, bathvigil, simulator, start, wait_until
from tests.whole.tools import CHROMIUM, needs_chromium

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--window-size=1200,800",
    "--remote-debugging-port=0",
)  # fmt: skip


class Page:
    """One page of a browser, spoken to over its debugging socket (RFC 6455, text frames only)."""

    def __init__(self, address: str) -> None:
        place, _, path = address.removeprefix("ws://").partition("/")
        host, _, port = place.partition(":")
        self._socket = socket.create_connection((host, int(port)), timeout=PATIENCE_S)
        key = base64.b64encode(os.urandom(16)).decode()
        self._socket.sendall(
            f"GET /{path} HTTP/1.1\r\nHost: {place}\r\n"
            "Upgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        self._file = self._socket.makefile("rb")
        while self._file.readline().strip():
            pass
        self._count = 0

    def ask(self, method: str, **parameters: object) -> dict[str, object]:
        self._count += 1
        call = json.dumps({"id": self._count, "method": method, "params": parameters}).encode()
        head = struct.pack("!BBH", 0x81, 0x80 | 126, len(call))
        self._socket.sendall(head + b"\0\0\0\0" + call)
        while True:
            told = json.loads(self._frame())
            if told.get("id") == self._count:
                result = told.get("result", {})
                assert isinstance(result, dict), told
                return result

    def close(self) -> None:
        self._file.close()
        self._socket.close()

    def _frame(self) -> bytes:
        _, length = self._file.read(2)
        if length == 126:
            (length,) = struct.unpack("!H", self._file.read(2))
        elif length == 127:
            (length,) = struct.unpack("!Q", self._file.read(8))
        return self._file.read(length)


@contextmanager
def browser(url: str) -> Iterator[Page]:
    """A headless browser that shows this page."""
    assert CHROMIUM is not None
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        process = subprocess.Popen(
            [CHROMIUM, *FLAGS, f"--user-data-dir={profile}", url],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            ready = Path(profile) / "DevToolsActivePort"
            port = wait_until(
                "the browser", lambda: ready.exists() and ready.read_text().partition("\n")[0]
            )
            page = Page(wait_until("its page", lambda: _page_address(str(port), url)))
            yield page
            page.close()
        finally:
            process.terminate()
            process.wait(PATIENCE_S)


def _page_address(port: str, url: str) -> str | None:
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/json", timeout=5) as answer:
        for one in json.load(answer):
            if one.get("url", "").startswith(url.partition("?")[0]):
                return str(one["webSocketDebuggerUrl"])
    return None


def address_of(served: "subprocess.Popen[str]") -> str:
    """The address that a command prints for browsers; it opens once."""
    assert served.stderr is not None
    for line in served.stderr:
        match = re.search(r"http://\S+", line)
        if match is not None:
            return match[0]
    raise AssertionError("no address was printed")


@needs_chromium
def test_a_browser_shows_the_live_state_and_its_key_reaches_the_recorder(tmp_path: Path) -> None:
    store, port = tmp_path / "bathvigil.db", free_port()
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        served = start(
            "watch", address, "--limit-amps", "10", "--store", store,
            "--in-browser", "--may-act", "--port", str(port),
        )  # fmt: skip
        try:
            url = address_of(served)
            with browser(url) as page:
                seen = wait_until("a chart and big letters", lambda: _picture(page, tmp_path))
                assert len(seen) > 20_000, "a blank page is smaller"
                _click(page)
                _key(page, "m")

                def marked() -> bool:
                    with open_store(store) as opened:
                        asked = opened.run(1).requests()
                    return any(one.kind is RequestKind.MARK and one.outcome for one in asked)

                wait_until("the mark", marked)
        finally:
            served.terminate()
            served.communicate(timeout=PATIENCE_S)
            _end_recorder(store)


def test_without_the_extra_it_says_what_to_install(tmp_path: Path) -> None:
    code = (
        "import sys; sys.modules['textual_serve'] = None;"
        "sys.modules['textual_serve.server'] = None;"
        "from tui.serving import serve; sys.exit(serve(['live'], '127.0.0.1:1', False, None))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "pip install 'bathvigil[web]'" in done.stderr


def test_another_address_than_loopback_needs_an_explicit_word() -> None:
    done = bathvigil("review", "1", "--listen-on", "0.0.0.0")
    assert done.returncode == 2
    assert "--in-browser" in done.stderr


def _picture(page: Page, folder: Path) -> bytes | None:
    data = page.ask("Page.captureScreenshot", format="png").get("data")
    picture = base64.b64decode(str(data)) if data else b""
    (folder / "browser.png").write_bytes(picture)
    return picture if len(picture) > 20_000 else None


def _click(page: Page) -> None:
    """Put the page's focus into the screen, as a touch does."""
    for kind in ("mousePressed", "mouseReleased"):
        page.ask("Input.dispatchMouseEvent", type=kind, x=300, y=300, button="left", clickCount=1)


def _key(page: Page, char: str) -> None:
    page.ask("Input.dispatchKeyEvent", type="keyDown", key=char, text=char)
    page.ask("Input.dispatchKeyEvent", type="keyUp", key=char)


def _end_recorder(store: Path) -> None:
    from monitor.recorder.lock import holder

    pid = holder(store)
    if pid is not None:
        os.kill(pid, 15)
        wait_until("the recorder's end", lambda: holder(store) is None)
