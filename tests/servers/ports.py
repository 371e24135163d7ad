"""Ports for servers that are other people's and cannot be told to take any.

A port that was free a moment ago may have been given to a neighbour: tests run side by side, and
most take whatever port they get. So these lie below what a system gives to whoever asks for any
(Linux: 32768 on, ip(7)), and each worker has its own.
"""

import itertools
import os
import socket

FIRST, LAST = 20_000, 32_000
WORKERS = 16
_WORKER = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) % WORKERS
_NUMBERS = itertools.count(os.getpid())
"""Not the same ones in two runs of the tests beside each other."""


def free_port() -> int:
    """A port of loopback on which nobody listens, and that no other test is given."""
    for number in _NUMBERS:
        port = FIRST + (number * WORKERS + _WORKER) % (LAST - FIRST)
        with socket.socket() as probe:
            # Not SO_REUSEADDR: what waits for its last packets is not free for every program.
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise AssertionError("counts for ever")
