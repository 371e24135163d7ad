"""Serves a screen to browsers; every tab is a process of its own.

The one place that imports textual-serve, which is optional.
"""

import shlex
import sys
from collections.abc import Sequence

from monitor.base.program import own_command

LOOPBACK = ("127.0.0.1", "localhost", "::1")
WARNING = (
    "Whoever reaches {host}:{port} can acknowledge alarms and end runs: there is no password and "
    "no encryption. Do this only in a network of your own."
)


def serve(arguments: Sequence[str], place: str) -> int:
    """Serve until stopped; the exit code.

    Parameters
    ----------
    arguments
        Those of `python -m tui`, with `--serve PLACE` among them.
    place
        HOST:PORT to listen on.
    """
    try:
        from textual_serve.server import Server
    except ImportError:
        sys.stderr.write("browsers need one more package: pip install 'bathvigil[web]'\n")
        return 1
    host, _, port = place.rpartition(":")
    at = list(arguments).index("--serve")
    shown = [*arguments[:at], *arguments[at + 2 :]]
    line = shlex.join(own_command("tui", *shown, "--glyphs", "braille"))
    if host not in LOOPBACK:
        sys.stderr.write(WARNING.format(host=host, port=port) + "\n")
    sys.stderr.write(f"open http://{host}:{port} in a browser; Ctrl+C ends this, not the run\n")

    class QuietServer(Server):
        async def on_startup(self, app: object) -> None:
            """Say nothing on stdout, which is for data."""

    QuietServer(line, host=host, port=int(port), title="bathvigil").serve()
    return 0
