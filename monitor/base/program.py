"""The installed program: its version, and how it starts and hears a process of its own."""

import sys
from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("bathvigil")
except PackageNotFoundError:
    VERSION = "not installed"

COMPLAINT = "bathvigil: "
"""How a line of ours on stderr begins that says what went wrong."""


def own_command(module: str, *arguments: str) -> list[str]:
    """The command line that runs one of our modules, such as "bathvigil", in a new process.

    `-P` keeps the working folder out of the imports: a file `monitor.py` of the user's own, in the
    folder where he started us, must not be taken for ours.
    """
    return [sys.executable, "-P", "-m", module, *arguments]


def last_complaint(log: str) -> str:
    """The last line of a log of ours, without the program's name; "" where it has none.

    >>> last_complaint("reading bench.toml\\nbathvigil: no such port\\n")
    'no such port'
    """
    lines = log.strip().splitlines()
    return lines[-1].removeprefix(COMPLAINT) if lines else ""
