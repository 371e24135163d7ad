"""A real browser without a window: headless Chromium, spoken to over its debugging socket."""

import base64
import json
import os
import socket
import struct
import subprocess
import tempfile
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tests.whole.processes import PATIENCE_S, wait_until
from tests.whole.tools import CHROMIUM

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

    def value(self, script: str) -> object:
        """What a line of JavaScript gives in the page; a promise is waited for."""
        told = self.ask(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True
        )
        result = told.get("result")
        assert isinstance(result, dict), told
        return result.get("value")

    def look_as(self, width: int, height: int, scheme: str = "light") -> None:
        """Be a phone or tablet of this size, by day ("light") or night ("dark")."""
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=True,
        )
        feature = {"name": "prefers-color-scheme", "value": scheme}
        self.ask("Emulation.setEmulatedMedia", features=[feature])

    def picture(self) -> bytes:
        """What is seen, as PNG, once all is drawn."""
        self.value(
            "new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r())))"
        )
        return base64.b64decode(str(self.ask("Page.captureScreenshot", format="png")["data"]))

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
            page = Page(wait_until("its page", lambda: _page_address(ready, url)))
            yield page
            page.close()
        finally:
            process.terminate()
            process.wait(PATIENCE_S)


def _page_address(ready: Path, url: str) -> str | None:
    """Where the page is to be spoken to; None while the browser is still starting."""
    with suppress(OSError):
        port, end, _ = ready.read_text().partition("\n")
        if not end:
            return None  # not yet written to its end
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/json", timeout=5) as answer:
            for one in json.load(answer):
                if one.get("url", "").startswith(url.partition("?")[0]):
                    return str(one["webSocketDebuggerUrl"])
    return None
