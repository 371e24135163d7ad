"""The screens in a real browser: headless Chromium shows the live state and sends a key."""

import base64
import os
import re
import subprocess
import sys
from pathlib import Path

from monitor.model.request import RequestKind
from monitor.store.reader import open_store
from tests.servers.ports import free_port
from tests.whole.browser import Page, browser
from tests.whole.processes import PATIENCE_S, bathvigil, simulator, start, wait_until
from tests.whole.tools import needs_chromium


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
