"""A real terminal in a tmux server of its own: send keys, read what stands on it."""

import shlex
import subprocess
import time
from collections.abc import Mapping
from pathlib import Path

from tests.whole.processes import command_line, wait_until

FINGER_S = 0.12
"""From one key to the next; what comes faster than a finger does not end a run."""

ROOT = Path(__file__).parents[2]


class Tmux:
    """One terminal of 80 by 24.

    Parameters
    ----------
    folder
        Where its socket lies.
    """

    def __init__(self, folder: Path) -> None:
        self._line = ["tmux", "-f", "/dev/null", "-S", str(folder / "tmux")]

    def run(self, *words: str) -> str:
        """One command of tmux; what it prints."""
        done = subprocess.run(
            [*self._line, *words], capture_output=True, text=True, check=False, timeout=30
        )
        return done.stdout

    def start(self, *arguments: str | Path) -> None:
        """Start one of our commands, in the project's folder."""
        line = " ".join(f"'{word}'" for word in command_line(*arguments))
        place = f"cd '{ROOT}' && LANG=C.UTF-8 {line}; sleep 600"
        self.run("new-session", "-d", "-x", "80", "-y", "24", f'sh -c "{place}"')

    def begin(self, line: str, folder: Path, environment: Mapping[str, str]) -> None:
        """Start a command line as it is typed, in a folder."""
        said = [f"{name}={value}" for name, value in environment.items() if name in PASSED]
        typed = shlex.join(["env", *said, "sh", "-c", f"{line}; sleep 600"])
        self.run("new-session", "-d", "-x", "80", "-y", "24", "-c", str(folder), typed)

    def press(self, *keys: str) -> None:
        """Keys by tmux's names."""
        for key in keys:
            self.run("send-keys", key)
            time.sleep(FINGER_S)

    def type(self, text: str) -> None:
        """A line, and Enter."""
        if text:
            self.run("send-keys", "-l", text)
        self.press("Enter")

    @property
    def text(self) -> str:
        """What stands on it."""
        return self.run("capture-pane", "-p")

    def shows(self, words: str) -> str:
        """Wait until words stand on it; all that stands on it then."""
        try:
            return wait_until(f"{words!r} on the terminal", lambda: self._with(words))
        except AssertionError as late:
            raise AssertionError(f"{late}; it shows:\n{self.text}") from None

    def _with(self, words: str) -> str | None:
        text = self.text
        return text if words in text else None


PASSED = {"HOME", "XDG_DATA_HOME", "PATH", "LANG"}
"""Of an environment, what a terminal's command must have."""
