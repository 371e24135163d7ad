"""What an operator asks of the recorder, and what became of it."""

from dataclasses import dataclass
from enum import StrEnum


class RequestKind(StrEnum):
    """What an operator can ask of the recorder."""

    ACKNOWLEDGE = "acknowledge"
    MARK = "mark"
    NOTE = "note"
    NEXT_STEP = "next-step"
    END_RUN = "end-run"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SOUND_HEARD = "sound-heard"
    JOB_CARD = "job-card"


@dataclass(frozen=True, slots=True)
class Request:
    """One request out of the table.

    `detail` is "ALARM#OCCURRENCE" for an acknowledgement or a shelf, the text for a note or mark,
    and `card_as_text` for a job card.
    `taken_utc_ns` is when the recorder took it up, `outcome` what became of it in words; None
    until then.
    """

    request: int
    run: int
    utc_ns: int
    kind: RequestKind
    detail: str = ""
    by: str = ""
    taken_utc_ns: int | None = None
    outcome: str | None = None
