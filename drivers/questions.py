"""What may be sent to a supply: a list of questions, and a link that refuses all else.

Numbered rules, each with its test:

1. A question in SCPI is one or more headers joined by ";", and each ends in "?". A setting such
   as `VOLT 5`, `OUTP ON` or `*RST` is not of that form, so it cannot be made into a question.
2. Questions that act (self-test, calibration, trigger) are no questions here.
3. A link sends whole questions of its list and nothing else; it refuses before a byte leaves.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal, Protocol, TypeAlias

from drivers.base.inert import inert
from drivers.errors import QuestionRefused
from drivers.link.link import Link

End: TypeAlias = Literal["LF", "CR", "CR LF", "none"]
ENDS: dict[str, bytes] = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n", "none": b""}
"""How a question may end, by the names that a description uses."""

# IEEE 488.2-1992, 7.6.1.2: a query's header ends in "?"; no white space, so no parameters.
_HEADER = re.compile(r":?[A-Za-z][A-Za-z0-9_]*(?::[A-Za-z][A-Za-z0-9_]*)*\?|\*[A-Za-z]{3,4}\?")
# IEEE 488.2-1992, 10.2 and 10.38: *CAL? and *TST? make the instrument do something.
_ACTING = re.compile(r":?(?:\*CAL|\*TST|CAL(?:IBRATION)?|TEST|DIAG(?:NOSTIC)?|INIT(?:IATE)?)\b")
_LONGEST = 240


class Question(Protocol):
    """One message that only asks."""

    @property
    def wire(self) -> bytes:
        """The bytes as they go out."""
        ...


class TextQuestion(Question, Protocol):
    """One message in text."""

    @property
    def text(self) -> str:
        """Without its end."""
        ...


@dataclass(frozen=True, slots=True)
class ScpiQuestion:
    """One question, or several in one message, to an instrument that speaks IEEE 488.2.

    Parameters
    ----------
    text
        Such as "MEAS:VOLT?" or "MEAS:VOLT?;:MEAS:CURR?".
    ends_with
        What ends the message: a name of `ENDS`.

    Raises
    ------
    QuestionRefused
        Where the text is anything but questions.

    Examples
    --------
    >>> ScpiQuestion("MEAS:VOLT?;:MEAS:CURR?").wire.decode().strip()
    'MEAS:VOLT?;:MEAS:CURR?'
    >>> ScpiQuestion("OUTP ON")
    Traceback (most recent call last):
    drivers.errors.QuestionRefused: 'OUTP ON' is not a question: each part must end in '?'
    """

    text: str
    ends_with: str = "LF"
    wire: bytes = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        shown = repr(inert(self.text))
        if len(self.text) > _LONGEST:
            raise QuestionRefused(f"{shown} is too long to be a question")
        if self.ends_with not in ENDS:
            raise QuestionRefused(f"{self.ends_with!r} cannot end a question: {', '.join(ENDS)}")
        for part in self.text.split(";"):
            if _HEADER.fullmatch(part) is None:
                raise QuestionRefused(f"{shown} is not a question: each part must end in '?'")
            if _ACTING.match(part.upper()):
                raise QuestionRefused(f"{shown} makes the supply act: it is not only a question")
        wire = self.text.encode("ascii") + ENDS[self.ends_with]
        object.__setattr__(self, "wire", wire)


class AskingLink:
    """A `Link` that can only ask: it passes on the questions of one list.

    Parameters
    ----------
    link
        The link behind it, used by nobody else.
    questions
        All that may ever be sent on it.
    """

    def __init__(self, link: Link, questions: Iterable[Question]) -> None:
        self._link = link
        self._allowed = frozenset(question.wire for question in questions)

    @property
    def place(self) -> str:
        return self._link.place

    @property
    def allowed(self) -> frozenset[bytes]:
        """Every message that can leave, as it goes on the wire."""
        return self._allowed

    def open(self, deadline_ns: int) -> None:
        self._link.open(deadline_ns)

    def close(self) -> None:
        self._link.close()

    def write(self, data: bytes, deadline_ns: int) -> None:
        """Send one whole question of the list.

        Raises
        ------
        QuestionRefused
            Before a byte leaves, for anything else.
        """
        if data not in self._allowed:
            shown = inert(data.decode("latin-1"))
            raise QuestionRefused(f"{self.place}: {shown!r} is not on the list of questions")
        self._link.write(data, deadline_ns)

    def read(self, deadline_ns: int) -> bytes:
        return self._link.read(deadline_ns)
