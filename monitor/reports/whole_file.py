"""A path in, a text file out that is there whole or not at all, with the old one kept till then."""

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from monitor.errors import BathvigilError


class NotWritten(BathvigilError):
    """A file could not be written; what lay at its place before is untouched."""


@contextmanager
def whole_file(to: Path) -> Iterator[TextIO]:
    """Write a file beside its place, and rename it there when all of it is on the disk.

    The text goes out as it is given: UTF-8, line ends unchanged.

    Raises
    ------
    NotWritten
        No such folder, no room, no permission; no half file is left.
    """
    place = Path(os.path.realpath(to))
    if place.exists() and not place.is_file():
        raise NotWritten(f"{to}: is not a file; name one with --to")
    part = place.with_name(f".{place.name}.{secrets.token_hex(4)}.part")
    try:
        try:
            with part.open("x", encoding="utf-8", newline="") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            part.replace(place)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
        _keep_name(place.parent)
    except OSError as error:
        raise NotWritten(
            f"{to}: cannot be written ({error.strerror}); make room or name another place; "
            "what was there before is unchanged"
        ) from error


def _keep_name(folder: Path) -> None:
    """Have the folder itself written, where the system lets a folder be opened (not Windows)."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
