"""A scene in, a supply on a real serial device or socket out, in this process.

>>> from simulators.pace import HandPace
>>> with playing("quiet-strip", "scpi-tcp", pace=HandPace()) as supply:
...     supply.address.startswith("scpi:tcp://127.0.0.1:")
True
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from simulators.exchange import End, Exchange
from simulators.link import CannotServe, Link
from simulators.link_pty import PtyLink
from simulators.link_tcp import TcpLink
from simulators.pace import Pace, RealPace
from simulators.rig import Rig
from simulators.scene import Scene, load_scene
from simulators.scpi_end import ScpiEnd, identity
from simulators.scpi_supply import ScpiSupply
from simulators.serving import Serving, Stop

# By the word for each link: its protocol's name in an address, and whether it can be played.
LINKS = {
    "scpi-tcp": ("scpi", True),
    "scpi-serial": ("scpi", True),
    "modbus-tcp": ("modbus", False),
    "modbus-rtu": ("modbus", False),
}


class NoSuchLink(CannotServe):
    """A link that this version cannot play."""


def open_link(word: str, port: int = 0, link_name: Path | None = None) -> tuple[str, Link]:
    """Open one of `LINKS`; give the supply's address and the link.

    Raises
    ------
    NoSuchLink
        Where this version cannot play it.
    CannotServe
        Where it cannot be opened.
    """
    protocol, is_there = LINKS[word]
    if not is_there:
        there = ", ".join(word for word, (_, is_there) in LINKS.items() if is_there)
        raise NoSuchLink(f"the link {word} cannot be simulated yet; use {there}")
    link: Link = TcpLink(port) if word.endswith("-tcp") else PtyLink(link_name)
    return f"{protocol}:{link.address}", link


def make_end(rig: Rig, number: int = 1) -> Callable[[], End]:
    """What makes the supply's end of each link: one instrument behind them all."""
    instrument = ScpiSupply(rig, identity(rig, number))
    return lambda: ScpiEnd(instrument)


@dataclass(slots=True)
class Playing:
    """A scene that is being played in a thread of this process.

    Parameters
    ----------
    address
        The supply's address, such as "scpi:tcp://127.0.0.1:40001".
    rig
        The scene's own state; look, while nothing is being asked.
    exchanges
        All that was asked and answered so far, in order.
    """

    address: str
    rig: Rig
    exchanges: list[Exchange] = field(default_factory=list)


@contextmanager
def playing(
    scene: Scene | str,
    link: str = "scpi-tcp",
    *,
    seed: int | None = None,
    pace: Pace | None = None,
    number: int = 1,
    link_name: Path | None = None,
) -> Iterator[Playing]:
    """Play a scene as long as the block lasts.

    Parameters
    ----------
    scene
        A scene, its name, or a file.
    link
        One of `LINKS`.
    seed
        The scene's own if None.
    pace
        Real time if None; a `HandPace` makes a test's time its own.
    number
        Of the supply, in its identity.
    link_name
        A second, steady name for a pseudo-terminal.

    Raises
    ------
    SceneError, CannotServe
        For a scene that cannot be played, a link that cannot be opened.
    """
    rig = Rig(load_scene(scene) if isinstance(scene, str) else scene, seed)
    address, opened = open_link(link, link_name=link_name)
    play = Playing(address, rig)
    serving = Serving(opened, make_end(rig, number), pace or RealPace(), play.exchanges.append)
    stop = Stop()
    thread = threading.Thread(target=serving.run, args=(stop,), name=f"playing {address}")
    thread.start()
    try:
        yield play
    finally:
        stop.set()
        thread.join()
        stop.close()
