"""Sounds the alarms until somebody acknowledges them, in a thread of its own.

1. A raise sounds at once; a sound that is being made is not cut short, the worst comes next.
2. While anything is unacknowledged, the worst priority's pattern comes again every `repeat_s`.
3. What is acknowledged or normal again makes no sound.
4. A low alarm sounds once, and so does a prompt that asks for a hand, with a sound of its own.
5. A sound that failed is tried again at each repeat until one works, also while nothing stands:
   a screen that is opened meanwhile lends its bell. It is told each time that its truth changes.
6. Nothing waits for a sound: not a poll, not an alarm, not the end of the run.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass

from drivers.base.clock import Clock
from monitor.model.alarm import RANK, AlarmEvent, Change, Priority, State
from monitor.model.event import ASKS_FOR_A_HAND, Prompt
from monitor.recorder.sound.players import Player, SoundFailed
from monitor.recorder.sound.tone import PROMPT

COMES = (Change.RAISED, Change.UNSHELVED)
SOUNDING = (State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)


@dataclass(frozen=True, slots=True)
class SoundState:
    """Whether the way to the loudspeaker worked, the last time it was used.

    Parameters
    ----------
    works
        None before the first sound.
    text
        In words, such as "aplay" or "horn failed with 1".
    """

    works: bool | None
    text: str


class Sounder:
    """Makes the sounds of one recorder.

    Parameters
    ----------
    player
        How to make one.
    real
        The machine's clock.
    tell
        Called, in the sounder's thread, when the truth about the sound has changed.
    timeout_s, repeat_s
        Longest time for one sound, and seconds between repeats.
    """

    def __init__(
        self,
        player: Player,
        real: Clock,
        tell: Callable[[SoundState], None],
        timeout_s: float = 3.0,
        repeat_s: float = 8.0,
    ) -> None:
        self._player = player
        self._real = real
        self._tells = [tell]
        self._timeout_s = timeout_s
        self._repeat_s = repeat_s
        self._standing: dict[tuple[int, str], Priority] = {}
        self._once: list[str] = []
        self._trial = False
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._stop = threading.Event()
        self.state = SoundState(None, f"{player.name}, not used yet")
        self._thread = threading.Thread(target=self._work, name="sounder", daemon=True)

    def start(self) -> None:
        """Begin to listen for alarms."""
        self._thread.start()

    def tell_also(self, tell: Callable[[SoundState], None]) -> None:
        """Have another part called, too, whenever the sound starts or stops to work."""
        self._tells.append(tell)

    def take(self, run: int, event: AlarmEvent) -> None:
        """Take one change of an alarm; never waits."""
        with self._lock:
            if event.priority is Priority.LOW:
                self._standing.pop((run, event.alarm), None)
                if event.change in COMES:
                    self._add_once(Priority.LOW)
            elif event.state in SOUNDING:
                self._standing[run, event.alarm] = event.priority
            else:
                self._standing.pop((run, event.alarm), None)
        self._wake.set()

    def ask(self, prompt: Prompt) -> None:
        """Take one prompt; never waits."""
        if prompt.prompt in ASKS_FOR_A_HAND:
            with self._lock:
                self._add_once(PROMPT)
            self._wake.set()

    def _add_once(self, sound: str) -> None:
        # Two that come while one is being made are heard as one.
        if sound not in self._once:
            self._once.append(sound)

    def try_out(self) -> None:
        """Make the sound of a high alarm once, for the operator to hear before a run."""
        with self._lock:
            self._trial = True
        self._wake.set()

    def close(self) -> None:
        """End; a sound that is being made is let go."""
        self._stop.set()
        self._wake.set()
        self._thread.join(timeout=self._timeout_s + 1.0)

    def _work(self) -> None:
        while not self._stop.is_set():
            sounds, comes_again = self._due()
            for sound in sounds:
                self._sound(sound)
            if comes_again:
                self._real.wait(self._repeat_s, self._wake)
            else:
                self._wake.wait()
            self._wake.clear()

    def _due(self) -> tuple[list[str], bool]:
        """What is to be heard now, the worst first, and whether more comes after a while."""
        with self._lock:
            trial, self._trial = self._trial, False
            once, self._once = self._once, []
            worst = min(self._standing.values(), key=RANK.__getitem__, default=None)
        if worst is not None:
            return [worst, *once], True
        return ([Priority.HIGH] if trial and not once else once), trial or bool(once)

    def _sound(self, sound: str) -> None:
        try:
            way = self._player.play(sound, self._timeout_s)
        except SoundFailed as failure:
            self._failed(str(failure))
        except Exception as bug:
            # A bug of ours must not end all sound.
            self._failed(f"the sounding failed: {type(bug).__name__}: {bug}")
        else:
            self._set(SoundState(True, way))

    def _failed(self, why: str) -> None:
        with self._lock:
            self._trial = True
        self._set(SoundState(False, why))

    def _set(self, state: SoundState) -> None:
        has_changed = state != self.state
        self.state = state
        if has_changed:
            for tell in self._tells:
                tell(state)
