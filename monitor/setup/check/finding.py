"""What one check found: pass, fail or note, in words, with the cure."""

from dataclasses import dataclass
from enum import StrEnum


class Check(StrEnum):
    """What was looked at."""

    SETTINGS = "settings"
    LIMITS = "limits"
    PORT = "port"
    PERMISSION = "permission"
    LOCK = "lock"
    LINK = "link"
    REPLY = "reply"
    DECODE = "decode"
    CLOCK = "clock"
    DISK = "disk"
    STORE = "store"
    SOUND = "sound"
    NOTICES = "notices"
    FORWARD = "forward"


class Result(StrEnum):
    """A note is nothing to be mended before a run: not set up, not tried, or to be known."""

    PASS = "pass"
    NOTE = "note"
    FAIL = "fail"


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of `bathvigil check`.

    Parameters
    ----------
    about
        The supply that it is about; "" for the machine.
    words
        What was found.
    fix
        What to do about it; None where nothing need be done, or where `words` say it.
    """

    check: Check
    result: Result
    words: str
    about: str = ""
    fix: str | None = None


def worst(findings: list[Finding]) -> int:
    """The exit code: 1 where anything failed, else 0."""
    return int(any(finding.result is Result.FAIL for finding in findings))
