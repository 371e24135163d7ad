"""A secret such as the server's token, read from its file, in a wrapping that never prints it."""

import os
import stat
import sys
from pathlib import Path
from typing import NoReturn

from monitor.base.errors import WrongUse

LONGEST_BYTES = 8192


class Secret:
    """A text that shows as ***, whoever prints, formats or logs it.

    Examples
    --------
    >>> token = Secret("abc")
    >>> print(token, f"{token}", [token])
    *** *** [***]
    >>> token.hidden_in("no such token: abc")
    'no such token: ***'
    """

    __slots__ = ("_text",)

    def __init__(self, text: str) -> None:
        self._text = text

    def __repr__(self) -> str:
        return "***"

    def __format__(self, wanted: str) -> str:
        return format("***", wanted)

    def __bool__(self) -> bool:
        return bool(self._text)

    def __reduce__(self) -> NoReturn:
        raise TypeError("a secret is not written to a file")

    def reveal(self) -> str:
        """The text itself; only for the request that carries it."""
        return self._text

    def hidden_in(self, text: str) -> str:
        """The text with every appearance of the secret replaced: a server may repeat it."""
        return text.replace(self._text, "***") if self._text else text


def read_token(file: Path | None, variable: str | None) -> Secret:
    """The token out of a file or an environment variable; an empty one where neither is named.

    Raises
    ------
    WrongUse
        Missing, empty, not a token, or readable by others; the cure is in the text.
    """
    if variable is not None:
        text = os.environ.get(variable, "")
        if not text.strip():
            raise WrongUse(f"forward.token_env: the environment has no {variable}; set it")
        return _checked(text, f"the environment's {variable}")
    if file is not None:
        return read_secret_file(file, "forward.token_file")
    return Secret("")


def read_secret_file(file: Path, setting: str) -> Secret:
    """The one line of a file that only its owner can read.

    Parameters
    ----------
    setting
        Where the settings name the file, for what is said when it cannot be used.

    Raises
    ------
    WrongUse
        Missing, empty, not one line, or readable by others; the cure is in the text.
    """
    return _checked(_text_of(file, setting), str(file))


def _text_of(file: Path, setting: str) -> str:
    try:
        with file.open("rb") as opened:
            mode = stat.S_IMODE(os.fstat(opened.fileno()).st_mode)
            if mode & 0o077 and sys.platform != "win32":
                raise WrongUse(
                    f"{file}: others can read the token in it (mode {mode:04o}); "
                    f"run: chmod 600 {file}"
                )
            return opened.read(LONGEST_BYTES).decode("utf-8", "replace")
    except OSError as error:
        raise WrongUse(
            f"{file}: the token cannot be read ({error.strerror}); check {setting}"
        ) from error


def _checked(text: str, where: str) -> Secret:
    token = text.strip()
    if not token:
        raise WrongUse(f"{where}: holds no token; put the server's token there")
    if not (token.isascii() and token.isprintable()):
        # The text itself would be in the chain of a decoding error.
        raise WrongUse(f"{where}: must hold one token of plain characters, on one line")
    return Secret(token)
