"""A `FakeSupply` behind a real pseudo-terminal or a real socket, served by a thread."""

import contextlib
import os
import select
import socket
import threading
import time
import tty
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from drivers.promises import Fault, Given
from tests.drivers.spoiling import Piece

DRIP_S = 0.05
LOOK_S = 0.02


class Scripted(Protocol):
    """What an end needs of the supply behind it."""

    fault: Fault

    @property
    def given(self) -> Sequence[Given]: ...
    @property
    def received(self) -> Sequence[bytes]: ...
    def receive(self, data: bytes) -> Sequence[Piece]: ...
    def is_question(self, message: bytes) -> bool: ...


class FakeEnd:
    """What both kinds of end have in common; a `drivers.promises.FakeEnd`."""

    options = ""
    driver = "scpi"

    def __init__(self, supply: Scripted) -> None:
        self.supply = supply
        self.lock = threading.RLock()
        self.outbox: list[tuple[float, bytes]] = []
        self.next_drip = 0.0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)

    def __enter__(self) -> Self:
        self.plug_in()
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop.set()
        self._thread.join()
        self.unplug()

    @property
    def address(self) -> str:
        raise NotImplementedError

    @property
    def given(self) -> Sequence[Given]:
        return self.supply.given

    @property
    def received(self) -> Sequence[bytes]:
        return self.supply.received

    def is_question(self, message: bytes) -> bool:
        return self.supply.is_question(message)

    def behave(self, fault: Fault) -> None:
        with self.lock:
            self.supply.fault = fault
            if fault is Fault.UNPLUGGED:
                self.unplug()
            else:
                self.plug_in()

    def say(self, data: bytes) -> None:
        """Send bytes that nobody asked for."""
        with self.lock:
            self.outbox.append((time.monotonic(), data))

    def plug_in(self) -> None:
        raise NotImplementedError

    def unplug(self) -> None:
        raise NotImplementedError

    def handles(self) -> list[int]:
        """File handles to be read from."""
        raise NotImplementedError

    def take(self, handle: int) -> bytes:
        """Bytes that have come; b"" for none."""
        raise NotImplementedError

    def send(self, data: bytes) -> None:
        raise NotImplementedError

    def _serve(self) -> None:
        while not self._stop.is_set():
            with self.lock:
                handles = self.handles()
                self._send_due()
                wait_s = self._wait_s()
            with contextlib.suppress(OSError, ValueError):
                select.select(handles, [], [], wait_s)
            with self.lock:
                for handle in handles:
                    if handle not in self.handles():
                        continue
                    ready, _, _ = select.select([handle], [], [], 0.0)
                    if ready and (data := self.take(handle)):
                        self._queue(self.supply.receive(data))

    def _queue(self, pieces: Sequence[Piece]) -> None:
        for piece in pieces:
            at = time.monotonic() + piece.after_s
            if self.outbox:
                at = max(at, self.outbox[-1][0])
            self.outbox.append((at, piece.data))
        self._send_due()

    def _send_due(self) -> None:
        now = time.monotonic()
        while self.outbox and self.outbox[0][0] <= now:
            self._send_if_plugged(self.outbox.pop(0)[1])
        if self.supply.fault is Fault.DRIP and now >= self.next_drip:
            self.next_drip = now + DRIP_S
            self._send_if_plugged(b"1")

    def _send_if_plugged(self, data: bytes) -> None:
        with contextlib.suppress(OSError):
            self.send(data)

    def _wait_s(self) -> float:
        due = [LOOK_S]
        if self.outbox:
            due.append(self.outbox[0][0] - time.monotonic())
        return max(0.0, min(due))


class PtyEnd(FakeEnd):
    """On a pseudo-terminal; `path` is a link to it that stays the same when it is re-plugged."""

    def __init__(self, supply: Scripted, path: Path) -> None:
        super().__init__(supply)
        self.path = path
        self._master: int | None = None
        self._slave: int | None = None

    @property
    def address(self) -> str:
        return f"{self.driver}:{self.path}{self.options}"

    @property
    def master(self) -> int:
        assert self._master is not None
        return self._master

    def plug_in(self) -> None:
        with self.lock:
            if self._master is not None:
                return
            self._master, self._slave = os.openpty()
            tty.setraw(self._slave)
            self.path.unlink(missing_ok=True)
            self.path.symlink_to(os.ttyname(self._slave))
            self.outbox.clear()

    def unplug(self) -> None:
        with self.lock:
            if self._master is None or self._slave is None:
                return
            # The name goes first: once it is closed the terminal's number may be another's.
            self.path.unlink(missing_ok=True)
            os.close(self._master)
            os.close(self._slave)
            self._master = self._slave = None

    def handles(self) -> list[int]:
        return [] if self._master is None else [self._master]

    def take(self, handle: int) -> bytes:
        return os.read(handle, 4096)

    def send(self, data: bytes) -> None:
        if self._master is not None:
            os.write(self._master, data)


class TcpEnd(FakeEnd):
    """On a port of the loopback; the newest connection is the one that is answered."""

    def __init__(self, supply: Scripted) -> None:
        super().__init__(supply)
        self.port = 0
        self._listening: socket.socket | None = None
        self._connected: socket.socket | None = None

    @property
    def address(self) -> str:
        return f"{self.driver}:tcp://127.0.0.1:{self.port}{self.options}"

    def plug_in(self) -> None:
        with self.lock:
            if self._listening is not None:
                return
            self._listening = socket.create_server(("127.0.0.1", self.port), reuse_port=True)
            self.port = self._listening.getsockname()[1]
            self.outbox.clear()

    def unplug(self) -> None:
        with self.lock:
            for one in (self._listening, self._connected):
                if one is not None:
                    one.close()
            self._listening = self._connected = None

    def handles(self) -> list[int]:
        return [one.fileno() for one in (self._listening, self._connected) if one is not None]

    def take(self, handle: int) -> bytes:
        if self._listening is not None and handle == self._listening.fileno():
            if self._connected is not None:
                self._connected.close()
            self._connected, _ = self._listening.accept()
            self._connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self.outbox.clear()
            return b""
        assert self._connected is not None
        data = b""
        with contextlib.suppress(OSError):
            data = self._connected.recv(4096)
        if not data:
            self._connected.close()
            self._connected = None
        return data

    def send(self, data: bytes) -> None:
        if self._connected is not None:
            self._connected.sendall(data)
