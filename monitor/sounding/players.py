"""Ways to make a sound on this machine, the surest first; each tells whether it worked.

None of them can know whether anybody heard it: only the operator can, at the start of a run.
"""

import shlex
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from monitor.alarms.alarm import Priority
from monitor.sounding.tone import wav

PLAYERS: tuple[tuple[str, ...], ...] = (
    ("pw-play",),
    ("paplay",),
    ("aplay", "-q"),
    ("play", "-q"),
    ("afplay",),
)
"""Programs that play a WAV file, as Linux desktops, small boards and macOS have them."""


class SoundFailed(Exception):
    """No sound was made; the message says why."""


class Player(Protocol):
    """One way to make a sound."""

    @property
    def name(self) -> str:
        """What it is, in a word or two."""
        ...

    def play(self, priority: Priority, timeout_s: float) -> None:
        """Make the sound of a priority; raises `SoundFailed`."""
        ...


class CommandPlayer:
    """Runs the user's own command, with the priority as its last argument.

    Parameters
    ----------
    command
        A command line such as "/usr/local/bin/horn --loud"; no shell is started.
    """

    def __init__(self, command: str) -> None:
        self._line = shlex.split(command)
        self.name = f"the command {self._line[0]}" if self._line else "no command"

    def play(self, priority: Priority, timeout_s: float) -> None:
        if not self._line:
            raise SoundFailed("the sound command is empty: see [sound] in the settings")
        _run([*self._line, priority.value], timeout_s)


class TonePlayer:
    """Plays our own tone through a program that the machine has."""

    def __init__(self, program: Sequence[str]) -> None:
        self._program = list(program)
        self.name = program[0]

    def play(self, priority: Priority, timeout_s: float) -> None:
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / f"{priority.value}.wav"
            file.write_bytes(wav(priority))
            _run([*self._program, str(file)], timeout_s)


class BellPlayer:
    """Rings the bell of the terminal that we were started in; the last resort.

    A terminal over a network, or one whose bell is switched off, may swallow it.
    """

    name = "the terminal bell"

    def play(self, priority: Priority, timeout_s: float) -> None:
        try:
            with Path("/dev/tty").open("wb", buffering=0) as terminal:
                terminal.write(b"\a")
        except OSError as failure:
            raise SoundFailed("there is no terminal whose bell could ring") from failure


def player_for(command: str | None) -> Player:
    """The user's command where there is one, else the first program found, else the bell."""
    if command is not None:
        return CommandPlayer(command)
    for program in PLAYERS:
        if shutil.which(program[0]) is not None:
            return TonePlayer(program)
    return BellPlayer()


def _run(line: list[str], timeout_s: float) -> None:
    try:
        done = subprocess.run(
            line,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            timeout=timeout_s,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise SoundFailed(f"{line[0]} was not done after {timeout_s:g} s") from None
    except OSError as failure:
        raise SoundFailed(f"{line[0]} cannot be run: {failure.strerror}") from failure
    if done.returncode != 0:
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        words = f": {said[-1][:120]}" if said else ""
        raise SoundFailed(f"{line[0]} failed with {done.returncode}{words}")
