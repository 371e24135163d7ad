"""Writes a file that is there whole or not at all; the old one stays until then."""

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from monitor.base.errors import BathvigilError


class NotWritten(BathvigilError):
    """A file could not be written; what lay at its place before is untouched."""


@contextmanager
def whole_file(to: Path) -> Iterator[TextIO]:
    """Write a text file beside its place, and rename it there when all of it is on the disk.

    The text goes out as it is given: UTF-8, line ends unchanged.

    Raises
    ------
    NotWritten
        No such folder, no room, no permission; no half file is left.
    """
    with whole_path(to) as part, part.open("w", encoding="utf-8", newline="") as file:
        yield file


@contextmanager
def whole_path(to: Path) -> Iterator[Path]:
    """The same for a library that opens files itself: the path that it must write to.

    Raises
    ------
    NotWritten
        As `whole_file`.
    """
    place = Path(os.path.realpath(to))
    if place.exists() and not place.is_file():
        raise NotWritten(f"{to}: is not a file; name one with --to")
    part = place.with_name(f".{place.name}.{secrets.token_hex(4)}.part")
    try:
        try:
            part.open("x").close()
            yield part
            _keep(part)
            part.replace(place)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
        _keep_name(place.parent)
    except OSError as error:
        raise NotWritten(
            f"{to}: cannot be written ({error.strerror or error}); make room or name another "
            "place; what was there before is unchanged"
        ) from error


def _keep(file: Path) -> None:
    """Have a file's bytes on the disk before its name is."""
    descriptor = os.open(file, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


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
