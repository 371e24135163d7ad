"""What no meter sees and the operator confirms before a run: the names that the card keeps."""

from enum import StrEnum


class StartCheck(StrEnum):
    """One line of the start card."""

    EXTRACTION = "extraction"
    LID = "lid"
    LEVEL = "level"
    GOGGLES = "goggles"
    BASE_METAL = "base-metal"
    POLARITY = "polarity"


def checks_of(text: str) -> tuple[StartCheck, ...]:
    """Those named in a text, separated by blanks, in the order of the card.

    >>> [str(check) for check in checks_of("polarity lid unknown")]
    ['lid', 'polarity']
    """
    named = text.split()
    return tuple(check for check in StartCheck if check in named)
