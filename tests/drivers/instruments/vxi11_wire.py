"""A network instrument of the VISA world: VXI-11 on bare sockets.

Written from VXI-11 revision 1.0, B.6 (numbers of the procedures from memory) and ONC RPC version 2
(RFC 5531). It notes every procedure that is called, and every fetching of an answer that nobody
asked for.
"""

import gc
import select
import socket
import struct
import time
import warnings
from collections import deque

from tests.drivers.instruments.mischief import Mischief
from tests.drivers.instruments.wire import SLICE_S, Answer, End

CREATE_LINK, WRITE, READ, DESTROY_LINK = 10, 11, 12, 23
TIMED_OUT = 15
ENDED = 4


def collect_lost_sockets() -> None:
    """Throw away the sockets of failed connections, which pyvisa-py 0.8.1 leaves open."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()


class Vxi11End(End):
    """One instrument that serves one link after the other.

    Parameters
    ----------
    discards
        A new question throws the unread answer away, as IEEE 488.2, 6.3.2.3 says.
    """

    def __init__(self, answer: Answer, mischief: Mischief, discards: bool = True) -> None:
        super().__init__(answer, mischief, by_line=True)
        self.procedures: set[int] = set()
        self.needless_reads = 0
        self._discards = discards
        self._server = socket.create_server(("127.0.0.1", 0))
        self._caller: socket.socket | None = None
        self._answers: deque[tuple[float, bytes]] = deque()
        self._is_asked = False
        self.place = f"visa:TCPIP::127.0.0.1,{self._server.getsockname()[1]}::inst0::INSTR"

    def close(self) -> None:
        super().close()
        self.drop()
        self._server.close()
        collect_lost_sockets()

    def drop(self) -> None:
        if self._caller is not None:
            self._caller.close()
            self._caller = None

    def _serve(self) -> None:
        while not self._over.is_set():
            if self._caller is None:
                if select.select([self._server], [], [], SLICE_S)[0]:
                    self._caller, _ = self._server.accept()
                    self._answers.clear()
                continue
            if not select.select([self._caller], [], [], SLICE_S)[0]:
                continue
            record = self._record(self._caller)
            if record is None:
                self.drop()
                continue
            xid, _, _, _, _, procedure = struct.unpack(">6I", record[:24])
            reply = self._called(procedure, record[40:])
            if reply is not None and self._caller is not None:
                body = struct.pack(">6I", xid, 1, 0, 0, 0, 0) + reply
                self._caller.sendall(struct.pack(">I", 0x80000000 | len(body)) + body)

    def _record(self, caller: socket.socket) -> bytes | None:
        """One call; RFC 5531, 11: fragments with a head of four bytes."""
        head = _exactly(caller, 4)
        return None if head is None else _exactly(caller, int.from_bytes(head, "big") & 0x7FFFFFFF)

    def _called(self, procedure: int, data: bytes) -> bytes | None:
        self.procedures.add(procedure)
        match procedure:
            case _ if procedure == CREATE_LINK:
                return struct.pack(">iiII", 0, 7, 0, 1024)
            case _ if procedure == WRITE:
                (length,) = struct.unpack(">I", data[16:20])
                self._take(data[20 : 20 + length])
                return struct.pack(">iI", 0, length)
            case _ if procedure == READ:
                return self._give(struct.unpack(">I", data[8:12])[0] / 1000)
        return struct.pack(">i", 0)

    def _take(self, question: bytes) -> None:
        self.received.append(question)
        if self._discards:
            self._answers.clear()
        self._is_asked = True
        answer = self._answer(question)
        if not answer:
            return
        sending = self._mischief.around(answer)
        if sending.is_reset:
            self._answers.clear()
            self.drop()
        at_s = time.monotonic()
        for wait_s, part in sending.parts:
            at_s += wait_s
            self._answers.append((at_s, part))
        self._over.wait(sending.pause_s)

    def _give(self, within_s: float) -> bytes:
        if not self._is_asked:
            self.needless_reads += 1
        until_s = time.monotonic() + within_s
        while time.monotonic() < until_s and not self._over.is_set():
            if self._answers and self._answers[0][0] <= time.monotonic():
                _, data = self._answers.popleft()
                self._is_asked = bool(self._answers)
                padded = data + b"\0" * (-len(data) % 4)
                return struct.pack(">iiI", 0, ENDED, len(data)) + padded
            self._over.wait(0.002)
        return struct.pack(">iiI", TIMED_OUT, 0, 0)


def _exactly(caller: socket.socket, count: int) -> bytes | None:
    data = b""
    try:
        while len(data) < count:
            part = caller.recv(count - len(data))
            if not part:
                return None
            data += part
    except OSError:
        return None
    return data
