"""A machine that plays no sounds: the recorder that `watch` starts rings the window's bell."""

import os
import pty
import signal
import sys
import threading
from pathlib import Path

from monitor.base.errors import StoreError
from monitor.model.event import Status
from monitor.model.request import RequestKind
from monitor.recorder.lock import holder
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from tests.whole.processes import simulator, wait_until


class Window:
    """A terminal with `watch` in it; keeps all that it is sent."""

    def __init__(self, address: str, store: Path) -> None:
        self.child, self.master = pty.fork()
        if self.child == 0:  # pragma: no cover - the child becomes the command
            # No program that plays sounds is found here.
            os.environ |= {"TERM": "xterm-256color", "PATH": "/nowhere"}
            line = ["watch", address, "--limit-amps", "40", "--store", str(store)]
            os.execv(sys.executable, [sys.executable, "-m", "bathvigil", *line])
        self.sent = b""
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        try:
            while data := os.read(self.master, 65536):
                self.sent += data
        except OSError:
            return

    def close(self) -> None:
        os.kill(self.child, signal.SIGHUP)
        os.waitpid(self.child, 0)
        self.reader.join(10)
        os.close(self.master)


def sound(store: Path) -> Status | None:
    try:
        with open_store(store) as opened:
            return opened.run(1).statuses().get("sound")
    except StoreError:
        return None


def said(store: Path, words: str) -> str | None:
    status = sound(store)
    return status.text if status is not None and words in status.text else None


def test_the_windows_bell_is_rung_and_its_proof_ends_with_the_window(tmp_path: Path) -> None:
    store = tmp_path / "runs.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, supply):
        window = Window(address, store)
        try:
            wait_until("the bell", lambda: b"\a" in window.sent or None)
            text = wait_until("its name", lambda: said(store, "the bell of"))
            assert text.startswith("SOUND NOT CHECKED: the bell of /dev/pts/")
            RequestBox(store).ask(1, RequestKind.SOUND_HEARD, by="Ada")
            wait_until("the proof", lambda: said(store, "sound heard by Ada"))
        finally:
            window.close()
        # The recorder goes on, and the supply falls silent: nobody can hear of it.
        os.kill(supply.pid, signal.SIGSTOP)
        try:
            text = wait_until("the truth", lambda: said(store, "SOUND FAILED"))
            assert "no terminal to ring" in text
            window = Window(address, store)
            wait_until("the bell in the other window", lambda: b"\a" in window.sent or None)
            wait_until("what is not proven any more", lambda: said(store, "SOUND NOT CHECKED"))
            window.close()
        finally:
            os.kill(supply.pid, signal.SIGCONT)
            pid = holder(store)
            assert pid
            os.kill(pid, signal.SIGTERM)
            wait_until("the end of the recorder", lambda: holder(store) is None or None)
