"""`python -m tui.phone`: what `bathvigil page` starts as a child process."""

import argparse
import sys
from contextlib import suppress
from pathlib import Path

from drivers.base.clock import SystemClock, boot_id
from tui.phone.door import Door
from tui.phone.lan import lan_addresses

EXTRA = "the page needs three more packages: pip install 'bathvigil[page]'"
ALONE = "This address works on this computer only. Phones need `--lan`."
SEEN = (
    "Whoever has this address and is in one of this computer's networks sees readings, names and "
    "notes. Nobody can change anything. There is no encryption: whoever can listen in the network "
    "reads all of it, the address too. Do this only in a network of your own."
)


def main(arguments: list[str] | None = None) -> int:
    """Serve the page until stopped; the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tui.phone", description="The page.")
    parser.add_argument("--store", type=Path, required=True, help="the store of runs")
    parser.add_argument("--port", type=int, required=True, help="where to listen")
    parser.add_argument("--lan", action="store_true", help="listen in the network, too")
    parser.add_argument("--begun-by", type=int, metavar="PID", help="leave when it is gone")
    asked = parser.parse_args(arguments)
    try:
        import segno

        from tui.phone.server import listen, serve
    except ImportError:
        return _refuse(EXTRA)
    hosts = lan_addresses() if asked.lan else ["127.0.0.1"]
    if not hosts:
        return _refuse("this computer is in no network: connect it, or leave out --lan")
    try:
        listening = listen(asked.lan, asked.port)
    except OSError as error:
        return _refuse(f"port {asked.port}: {error.strerror}; give another --port")
    door = Door(listening.getsockname()[1])

    def opened() -> None:
        first, *others = map(door.address, hosts)
        if sys.stderr.isatty():
            with suppress(UnicodeError):  # a terminal without blocks
                segno.make(first, error="l", micro=False).terminal(sys.stderr, compact=True)
        _say(f"open {first} ; Ctrl+C ends this")
        for other in others:
            _say(f"  or {other}")
        _say(SEEN if asked.lan else ALONE)

    with suppress(KeyboardInterrupt):
        return serve(asked.store, SystemClock(), boot_id(), listening, door, opened, asked.begun_by)
    return 0


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


def _refuse(text: str) -> int:
    _say(f"bathvigil: {text}")
    return 1


if __name__ == "__main__":
    sys.exit(main())
