"""What a server's answer means for the points, and how long to leave it alone. No I/O here."""

import json
import re
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from email.utils import parsedate_to_datetime
from enum import Enum, auto

WRITTEN = 204
LONGEST_WORDS = 300
LONGEST_RETRY_S = 3600.0
FIRST_S = 1.0
LONGEST_S = 60.0
SLOW_S = 60.0
"""Between tries where only a person can cure the failure."""


class Meaning(Enum):
    """What to do with the points after a reply."""

    TAKEN = auto()
    """They are there."""
    REFUSED = auto()
    """Something in them is wrong: find it, keep it apart, go on."""
    TOO_LARGE = auto()
    """The same in smaller pieces."""
    BUSY = auto()
    """The same again later."""
    UNREACHABLE = auto()
    """The same again later; whether they arrived is unknown."""
    NOT_LET_IN = auto()
    """The token is wrong: only a person can cure that."""
    WRONG_PLACE = auto()
    """The address or bucket is wrong: only a person can cure that."""


FAILURES_OF_THE_PLACE = frozenset({Meaning.NOT_LET_IN, Meaning.WRONG_PLACE})

_CURES = {
    Meaning.NOT_LET_IN: "check the token (forward.token_file or token_env)",
    Meaning.WRONG_PLACE: "check forward.url, org and bucket",
}
# Not "retention policy not found", which is about the place.
_TOO_OLD = re.compile(
    r"(beyond|outside|past|older than)\b.{0,40}\bretention|too (old|far in the past)", re.IGNORECASE
)
# InfluxDB 1.x and 2.x: "partial write: ... dropped=3"; the others of the batch are kept.
_DROPPED = re.compile(r"\bdropped=(\d+)")
_EXPLAINED = re.compile(r"partial write|unable to parse|type conflict|dropped=", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back for one write.

    Parameters
    ----------
    status
        HTTP status; None where none came.
    words
        The server's, or the connection's, in one line.
    retry_after_s
        How long the server asks to be left alone; None where it does not say.
    is_new_connection
        True where the connection that the last write left open was gone: the server may have
        been started anew in between.
    """

    meaning: Meaning
    status: int | None = None
    words: str = ""
    retry_after_s: float | None = None
    is_new_connection: bool = False

    @property
    def is_too_old(self) -> bool:
        """True where the server no longer keeps points of that age."""
        return self.meaning is Meaning.REFUSED and bool(_TOO_OLD.search(self.words))

    @property
    def dropped(self) -> int | None:
        """How many points of the batch were refused while the rest was kept, if it is said."""
        match = _DROPPED.search(self.words)
        return int(match[1]) if match else None

    @property
    def is_explained(self) -> bool:
        """True where the words are about a point, so that the server understood the batch."""
        return self.is_too_old or bool(_EXPLAINED.search(self.words))

    @property
    def text(self) -> str:
        """The reply in one line, with the cure where a person must do something.

        >>> Reply(Meaning.NOT_LET_IN, 401, "unauthorized").text
        '401 unauthorized: check the token (forward.token_file or token_env)'
        """
        text = " ".join(filter(None, ["" if self.status is None else str(self.status), self.words]))
        cure = _CURES.get(self.meaning)
        return f"{text}: {cure}" if cure else text


def meaning_of(status: int) -> Meaning:
    """What an HTTP status says about the points of a write.

    Only 204 says that they are written, and only 400, 413 and 422 are about the points themselves
    (InfluxDB API v2, /api/v2/write). Every other refusal is about who asks or where, and would take
    every point for a bad one; a page that says 200 comes from a login page or a proxy.
    """
    if status == WRITTEN:
        return Meaning.TAKEN
    if status in (400, 422):
        return Meaning.REFUSED
    if status == 413:
        return Meaning.TOO_LARGE
    if status in (401, 403):
        return Meaning.NOT_LET_IN
    if status in (408, 425, 429) or status >= 500:
        return Meaning.BUSY
    return Meaning.WRONG_PLACE


def reply_of(status: int, headers: Mapping[str, str], body: bytes | str | None) -> Reply:
    """The reply that a server gave."""
    words = words_of(body)
    if status != WRITTEN and status < 400:
        words = f"does not say that the points are written ({WRITTEN} does): {words}".rstrip(": ")
    return Reply(meaning_of(status), status, words, retry_after_s(headers))


def words_of(body: bytes | str | None) -> str:
    """The server's words in one printable line.

    >>> words_of(b'{"code":"invalid","message":"bad  line"}'), words_of("no\\n such db")
    ('bad line', 'no such db')
    """
    text = body.decode("utf-8", "replace") if isinstance(body, bytes) else body or ""
    try:
        answer = json.loads(text)
    except (ValueError, RecursionError):
        answer = None
    if isinstance(answer, dict):
        texts = [answer[key] for key in ("message", "error") if isinstance(answer.get(key), str)]
        text = texts[0] if texts else text
    return one_line(text)


def one_line(text: str) -> str:
    """Words from outside, without line ends or control characters, and not too long."""
    plain = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(plain.split())[:LONGEST_WORDS]


def retry_after_s(headers: Mapping[str, str]) -> float | None:
    """The header Retry-After (RFC 9110, section 10.2.3) in seconds, an hour at the most.

    A date is counted from the server's own Date.

    >>> retry_after_s({"Retry-After": "30"}), retry_after_s({})
    (30.0, None)
    """
    text = headers.get("Retry-After", "").strip()
    if text.isdecimal():
        return min(float(text), LONGEST_RETRY_S)
    try:
        until, now = (parsedate_to_datetime(date) for date in (text, headers.get("Date", "")))
        wait_s = (until - now).total_seconds()
    except (ValueError, TypeError, OverflowError):
        # No date, one without a zone, one of another era.
        return None
    return min(max(wait_s, 0.0), LONGEST_RETRY_S)


class Pause:
    """Doubles from failure to failure, and is a little different for each bench.

    Many benches that lose one server do not all come back to it in the same second.

    Parameters
    ----------
    name
        Of the bench; decides its share of the difference, up to a quarter.

    Examples
    --------
    >>> pause = Pause("bench-1")
    >>> first, second = [pause.after(Reply(Meaning.BUSY, 503)) for _ in range(2)]
    >>> second / first
    2.0
    """

    def __init__(self, name: str) -> None:
        self._share = 1 + zlib.crc32(name.encode()) / 2**32 / 4
        self._failures = 0

    def over(self) -> None:
        """Something was taken."""
        self._failures = 0

    def after(self, reply: Reply) -> float:
        """Seconds to wait after a failure; never less than the server asks for."""
        self._failures += 1
        wait_s = min(FIRST_S * 2.0 ** min(self._failures - 1, 10), LONGEST_S)
        if reply.meaning in FAILURES_OF_THE_PLACE:
            wait_s = SLOW_S
        return max(wait_s * self._share, reply.retry_after_s or 0.0)
