"""The front panel of a simulated supply: its two numbers, whenever they change.

A simulated supply has no front panel to look at, and setting one up asks for what it shows.
"""

import threading
from collections.abc import Callable

from simulators.pace import Pace
from simulators.rig import Rig

EVERY_S = 1.0
"""Of the machine's time, between two looks."""


class Panel:
    """What the meters of one supply show.

    Parameters
    ----------
    rig
        Looked at, and brought up to the time, in the serving thread only.
    tell
        Takes one line, such as "panel: 9.00 V  34.90 A".
    """

    def __init__(self, rig: Rig, pace: Pace, tell: Callable[[str], None]) -> None:
        self._rig = rig
        self._pace = pace
        self._tell = tell
        self._shown = ""

    def look(self) -> None:
        """Tell the numbers where they are others than before."""
        self._rig.advance_to(self._pace.t_s())
        point = self._rig.measured()
        shown = f"panel: {point.volts:.2f} V  {point.amps:.2f} A"
        if shown != self._shown:
            self._shown = shown
            self._tell(shown)


def look_again_and_again(panel: Panel, bid: Callable[[Callable[[], None]], None]) -> None:
    """Have the serving thread look once a second, until the process ends."""
    pause = threading.Event()

    def run() -> None:
        while True:
            try:
                bid(panel.look)
            except OSError:  # the serving has ended
                return
            pause.wait(EVERY_S)

    threading.Thread(target=run, daemon=True, name="panel").start()
