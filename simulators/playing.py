"""Plays a scene in a thread of this process, on a real serial device or socket.

>>> from simulators.pace import HandPace
>>> with playing("quiet-strip", "scpi-tcp", pace=HandPace()) as supply:
...     supply.address.startswith("scpi:tcp://127.0.0.1:")
True
"""

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from simulators.exchange import Exchange
from simulators.fault import Fault
from simulators.fault_track import Outage
from simulators.faults import Faults
from simulators.installation import REGISTERS, SPEECH, Installation
from simulators.link import Link
from simulators.pace import Pace, RealPace
from simulators.register_map import RegisterMap
from simulators.rig import Rig
from simulators.scene import Scene, load_scene
from simulators.serving import Serving, Stop
from simulators.speech import Speech

FOR_EVER_S = 1e9


class Playing:
    """A scene that is being played in a thread of this process.

    Attributes
    ----------
    rig, rigs
        The state of the first supply, and of each in the order of its units; look, while nothing
        is being asked.
    exchanges
        All that was asked and answered so far, in order.
    faults
        What goes wrong; `faults.add` has the next question meet a fault.
    """

    def __init__(
        self, installation: Installation, link: Link, rigs: list[Rig], faults: Faults
    ) -> None:
        self.rigs = rigs
        self.rig = rigs[0]
        self.exchanges: list[Exchange] = []
        self.faults = faults
        self._installation = installation
        self._link = link
        self._stop = Stop()
        self._serving: Serving | None = None

    @property
    def address(self) -> str:
        """The first supply's address, such as "scpi:tcp://127.0.0.1:40001", as it is now."""
        return self.addresses[0]

    @property
    def addresses(self) -> list[str]:
        """Every supply's address."""
        return self._installation.addresses(self._link)

    @property
    def has_said_all(self) -> bool:
        """Whether nothing of its answers is still to be sent."""
        return self._serving is None or self._serving.has_said_all

    def unplug(self, how: str = "away", name: str | None = None) -> None:
        """Pull the cable until `plug_in`, in one of the ways of `simulators.fault`; waits for it.

        Parameters
        ----------
        name
            The link name that a pseudo-terminal has afterwards, if another.
        """
        assert self._serving is not None
        outage = Outage(False, how, FOR_EVER_S, name)
        serving = self._serving
        self._bid(lambda: serving.go_out(outage))

    def plug_in(self) -> None:
        """Put the cable back; waits for it."""
        assert self._serving is not None
        self._bid(self._serving.come_back)

    def _bid(self, deed: Callable[[], None]) -> None:
        done = threading.Event()

        def do() -> None:
            try:
                deed()
            finally:
                done.set()

        self._stop.bid(do)
        assert done.wait(10.0), "the serving thread has ended"


@contextmanager
def playing(
    scene: Scene | str,
    link: str = "scpi-tcp",
    *,
    seed: int | None = None,
    pace: Pace | None = None,
    number: int = 1,
    link_name: Path | None = None,
    faults: Faults | Iterable[Fault] = (),
    tagged: bool = False,
    baud: int | None = None,
    units: tuple[int, ...] = (1,),
    mute_units: tuple[int, ...] = (),
    registers: RegisterMap | str = REGISTERS,
    speech: Speech | str = SPEECH,
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
        Real time if None; a `HandPace` makes a test's time its own. Faults and the line's
        rate go by the machine's time in any case.
    link_name
        A second, steady name for a pseudo-terminal.
    faults
        What goes wrong: a plan, or faults in the order in which the next questions meet them.
    number, tagged, baud, units, mute_units, registers, speech
        See `Installation`.

    Raises
    ------
    FormError, CannotServe
        For a scene that cannot be played, a link that cannot be opened.
    """
    installation = Installation(
        link=link,
        number=number,
        units=units,
        mute_units=mute_units,
        registers=registers,
        speech=speech,
        is_tagged=tagged,
        baud=baud,
    )
    plan = faults if isinstance(faults, Faults) else Faults(faults)
    rigs = installation.rigs(load_scene(scene) if isinstance(scene, str) else scene, seed)
    make_end = installation.make_end(rigs)
    opened = installation.open_link(0, link_name)
    play = Playing(installation, opened, rigs, plan)
    serving = play._serving = Serving(
        opened,
        make_end,
        pace or RealPace(),
        play.exchanges.append,
        faults=plan,
        rate=installation.rate(),
    )
    stop = play._stop
    thread = threading.Thread(target=serving.run, args=(stop,), name=f"playing {play.address}")
    thread.start()
    try:
        yield play
    finally:
        stop.set()
        thread.join()
        stop.close()
