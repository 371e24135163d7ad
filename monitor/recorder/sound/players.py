"""Ways to make a sound on this machine, the surest first; each tells whether it worked.

None of them can know whether anybody heard it: only the operator can, at the start of a run.
"""

import shlex
import shutil
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from platformdirs import user_cache_path

from monitor.base.errors import WrongUse
from monitor.base.own_file import own_folders
from monitor.base.user_program import run_program
from monitor.model.alarm import Priority
from monitor.recorder.sound.bells import OWN, lent_bells, ring
from monitor.recorder.sound.tone import SOUNDS, wav

PLAYERS: tuple[tuple[str, ...], ...] = (
    ("pw-play",),
    ("paplay",),
    ("aplay", "-q"),
    ("play", "-q"),
    ("afplay",),
)
"""Programs that play a WAV file, as Linux desktops, small boards and macOS have them."""
RINGS: dict[str, int] = {Priority.CRITICAL: 3, Priority.HIGH: 2}
RING_APART_S = 0.3
"""A terminal makes one sound of bells that follow each other sooner."""


class SoundFailed(Exception):
    """No sound was made; the message says why."""


class Player(Protocol):
    """One way to make a sound."""

    @property
    def name(self) -> str:
        """What it is, in a word or two."""
        ...

    def play(self, sound: str, timeout_s: float) -> str:
        """Make a sound of `tone.SOUNDS`; by which way, in words. Raises `SoundFailed`."""
        ...


class CommandPlayer:
    """Runs the user's own command; its last argument is the priority, or "prompt".

    Parameters
    ----------
    command
        A command line such as "/usr/local/bin/horn --loud"; no shell is started.
    """

    def __init__(self, command: str) -> None:
        try:
            self._line = shlex.split(command)
        except ValueError as error:
            raise WrongUse(
                f"[sound] command: {error}; write it as a shell would take it"
            ) from error
        self.name = f"the command {self._line[0]}" if self._line else "no command"

    def play(self, sound: str, timeout_s: float) -> str:
        if not self._line:
            raise SoundFailed("the sound command is empty: see [sound] in the settings")
        _run([*self._line, sound], timeout_s)
        return self.name


class TonePlayer:
    """Plays our own tone through a program that the machine has.

    Parameters
    ----------
    program
        Its name and options; gets the path of a WAV file.
    folders
        Where the tones are kept, the first that can be written: a disk that fills up later must
        not silence them.
    """

    def __init__(self, program: Sequence[str], folders: Sequence[Path] | None = None) -> None:
        self._program = list(program)
        self.name = program[0]
        if folders is None:
            folders = (user_cache_path("bathvigil", appauthor=False), *own_folders())
        self._folders = folders
        for sound in SOUNDS:
            self._file(sound)

    def play(self, sound: str, timeout_s: float) -> str:
        file = self._file(sound)
        if file is None:
            raise SoundFailed("the tone cannot be written: free disk space")
        _run([*self._program, str(file)], timeout_s)
        return self.name

    def _file(self, sound: str) -> Path | None:
        tone = wav(sound)
        for folder in self._folders:
            file = folder / f"bathvigil-{sound}.wav"
            try:
                if not file.exists() or file.read_bytes() != tone:
                    folder.mkdir(parents=True, exist_ok=True)
                    file.write_bytes(tone)
            except OSError:
                continue
            return file
        return None


class BellPlayer:
    """Rings the bell of our own terminal, and of each that a screen has lent; the last resort.

    Three rings for critical, two for high, one for the rest. A terminal over a network, or one
    whose bell is switched off, may swallow them: only who sits there can say.

    Parameters
    ----------
    store
        Beside which screens note their terminals; None for our own only.
    """

    name = "the terminal bell"

    def __init__(self, store: Path | None = None) -> None:
        self._store = store

    def play(self, sound: str, timeout_s: float) -> str:
        terminals = [OWN] if self._store is None else [OWN, *lent_bells(self._store)]
        rung = ring(terminals)
        if not rung:
            raise SoundFailed("no sound player found, and no terminal to ring")
        for _ in range(RINGS.get(sound, 1) - 1):
            threading.Event().wait(RING_APART_S)
            ring(rung)
        return f"the bell of {', '.join(map(str, rung))}"


def player_for(command: str | None, store: Path | None = None) -> Player:
    """The user's command where there is one, else the first program found, else the bell."""
    if command is not None:
        return CommandPlayer(command)
    for program in PLAYERS:
        if shutil.which(program[0]) is not None:
            return TonePlayer(program)
    return BellPlayer(store)


def _run(line: list[str], timeout_s: float) -> None:
    code, _, err = run_program(line, "", timeout_s)
    if code is None:
        is_late = "cannot be run" not in err
        raise SoundFailed(f"{line[0]} was not finished after {timeout_s:g} s" if is_late else err)
    if code != 0:
        lines = err.strip().splitlines()
        words = f": {lines[-1][:120]}" if lines else ""
        raise SoundFailed(f"{line[0]} failed with {code}{words}")
