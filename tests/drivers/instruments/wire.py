"""The wires of the instruments: pseudo-terminals and sockets of the system, used bare.

An `End` hears questions, has the instrument answer, lets the mischief at the answer, and sends.
What a server of another library answers goes through it, too.
"""

import contextlib
import os
import re
import select
import socket
import time
import tty
from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread

from tests.drivers.instruments.mischief import Mischief

Answer = Callable[[bytes], bytes | None]


class HangUp(Exception):
    """An instrument breaks the connection off, as some do that were sent what they do not know."""


SLICE_S = 0.01
REST_S = 0.004
"""A question without an end is over after this silence."""
_LINE = re.compile(rb"[^\r\n]*[\r\n]+")


class End:
    """One instrument's end of a wire, served by a thread until it is closed.

    Parameters
    ----------
    answer
        What the instrument answers to one question; None for nothing.
    by_line
        Questions end with CR or LF; else with a silence.
    unasked
        What it says by itself, and how often in seconds; None for one that is asked.
    """

    def __init__(
        self,
        answer: Answer,
        mischief: Mischief,
        by_line: bool,
        unasked: tuple[Callable[[], bytes], float] | None = None,
    ) -> None:
        self.received: list[bytes] = []
        self._answer = answer
        self._mischief = mischief
        self._by_line = by_line
        self._unasked = unasked
        self._over = Event()
        self._came = b""
        self._due_s = time.monotonic()
        self._thread = Thread(target=self._serve, daemon=True)

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        """Stop serving."""
        self._over.set()
        self._thread.join()

    def read(self) -> bytes | None:
        """What has come, or b"" after `SLICE_S`; None where nobody is there."""
        raise NotImplementedError

    def write(self, data: bytes) -> None:
        raise NotImplementedError

    def drop(self) -> None:
        """Break the connection, where there is one."""

    def _serve(self) -> None:
        while not self._over.is_set():
            data = self.read()
            if data is None:
                self._came = b""
                continue
            self._came += data
            if data:
                self.received.append(data)
            if self._unasked is not None:
                self._speak()
                continue
            for question in self._questions(is_over=not data):
                # One that was asked long ago is answered all the same: instruments have buffers.
                try:
                    answer = self._answer(question)
                except HangUp:
                    self.drop()
                    break
                if answer:
                    self._send(answer)

    def _questions(self, is_over: bool) -> list[bytes]:
        if self._by_line:
            found = _LINE.findall(self._came)
            self._came = self._came[sum(map(len, found)) :]
            return found
        if not self._came or not is_over:
            return []
        found, self._came = [self._came], b""
        return found

    def _speak(self) -> None:
        says, every_s = self._unasked or (bytes, 0.0)
        self._came = b""
        if time.monotonic() >= self._due_s:
            self._due_s = max(self._due_s + every_s, time.monotonic())
            self._send(says())

    def _send(self, answer: bytes) -> None:
        sending = self._mischief.around(answer)
        if sending.is_reset:
            self._came = b""
            self.drop()
        for wait_s, part in sending.parts:
            self._over.wait(wait_s)
            self.write(part)
        self._over.wait(sending.pause_s)


class PtyEnd(End):
    """The far end of a serial cable; `path` is the near one."""

    def __init__(
        self,
        path: Path,
        answer: Answer,
        mischief: Mischief,
        by_line: bool,
        unasked: tuple[Callable[[], bytes], float] | None = None,
    ) -> None:
        super().__init__(answer, mischief, by_line, unasked)
        self._far, self._near = os.openpty()
        tty.setraw(self._near)
        os.set_blocking(self._far, False)
        path.symlink_to(os.ttyname(self._near))
        self.place = str(path)

    def read(self) -> bytes | None:
        wait_s = REST_S if self._came else SLICE_S
        if not select.select([self._far], [], [], wait_s)[0]:
            return b""
        return os.read(self._far, 4096)

    def write(self, data: bytes) -> None:
        # Nobody reads: the terminal is full, as a cable that leads nowhere loses what is sent.
        with contextlib.suppress(BlockingIOError):
            os.write(self._far, data)

    def close(self) -> None:
        super().close()
        os.close(self._far)
        os.close(self._near)


class TcpEnd(End):
    """A network instrument that serves one caller after the other."""

    def __init__(
        self,
        answer: Answer,
        mischief: Mischief,
        by_line: bool,
        unasked: tuple[Callable[[], bytes], float] | None = None,
    ) -> None:
        super().__init__(answer, mischief, by_line, unasked)
        self._server = socket.create_server(("127.0.0.1", 0))
        self._caller: socket.socket | None = None
        self.place = f"tcp://127.0.0.1:{self._server.getsockname()[1]}"

    def read(self) -> bytes | None:
        if self._caller is None:
            if select.select([self._server], [], [], SLICE_S)[0]:
                self._caller, _ = self._server.accept()
            return None
        wait_s = REST_S if self._came else SLICE_S
        if not select.select([self._caller], [], [], wait_s)[0]:
            return b""
        with contextlib.suppress(OSError):
            if data := self._caller.recv(4096):
                return data
        self.drop()
        return None

    def write(self, data: bytes) -> None:
        if self._caller is not None:
            with contextlib.suppress(OSError):
                self._caller.sendall(data)

    def drop(self) -> None:
        if self._caller is not None:
            self._caller.close()
            self._caller = None

    def close(self) -> None:
        super().close()
        self.drop()
        self._server.close()
