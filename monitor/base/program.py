"""The installed program: its version, and how it starts a process of its own."""

import sys
from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("bathvigil")
except PackageNotFoundError:
    VERSION = "not installed"


def own_command(module: str, *arguments: str) -> list[str]:
    """The command line that runs one of our modules, such as "bathvigil", in a new process.

    `-P` keeps the working folder out of the imports: a file `monitor.py` of the user's own, in the
    folder where he started us, must not be taken for ours.
    """
    return [sys.executable, "-P", "-m", module, *arguments]
