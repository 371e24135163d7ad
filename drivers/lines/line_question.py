"""A question in a maker's own plain protocol, checked: it cannot set or switch anything.

Nobody but the supply's manual knows what a plain text does. So only texts that look like a
question pass: no number that could be a set-point, no "=", none of the words that switch or set.
A query as SCPI writes it (`scpi_question.py`) passes, too.
"""

import re
from dataclasses import dataclass, field

from drivers.base.inert import inert
from drivers.errors import QuestionRefused
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.text_question import ENDS

_LONGEST = 32
_FORM = re.compile(r"[A-Za-z*:#@?$!/_ -][A-Za-z0-9*:#@?$!/_ -]*")
_NUMBER = re.compile(r"[0-9]{2}|(?:^|[ :,])[0-9]|[0-9](?=$)")
_SETTING = re.compile(
    r"(?<![A-Za-z])(?:ON|OFF|SET|RST|RESET|START|STOP|RUN|SAVE|STORE|RCL|RECALL|LOAD|WRITE|LOCK|REM|"
    r"REMOTE|RWL|LLO|CAL|TST|TEST|TRG|TRIG|CLR|CLEAR|ENABLE|DISABLE|ENTER|OUT|OUTP|OUTPUT)(?![A-Za-z?])",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class LineQuestion:
    """One question in plain text.

    Parameters
    ----------
    text
        Such as "V?" or "READ".
    ends_with
        What ends it: a name of `ENDS`.

    Raises
    ------
    QuestionRefused
        Where the text could set or switch something.

    Examples
    --------
    >>> LineQuestion("V1?", "CR").wire
    b'V1?\\r'
    >>> LineQuestion("VSET 12", "CR")
    Traceback (most recent call last):
    drivers.errors.QuestionRefused: 'VSET 12' holds a number: it could set something
    """

    text: str
    ends_with: str = "LF"
    wire: bytes = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        shown = repr(inert(self.text))
        if _is_query(self.text):
            query = ScpiQuestion(self.text, self.ends_with)
            object.__setattr__(self, "wire", query.wire)
            return
        if self.ends_with not in ENDS:
            raise QuestionRefused(f"{self.ends_with!r} cannot end a question: {', '.join(ENDS)}")
        if len(self.text) > _LONGEST or _FORM.fullmatch(self.text) is None:
            raise QuestionRefused(
                f"{shown} is no plain question: up to {_LONGEST} letters, digits and signs, no '='"
            )
        # A digit may name a channel: one alone, in a text that ends in "?".
        if _NUMBER.search(self.text):
            raise QuestionRefused(f"{shown} holds a number: it could set something")
        if re.search("[0-9]", self.text) and not self.text.endswith("?"):
            raise QuestionRefused(f"{shown} holds a number: it could set something")
        if match := _SETTING.search(self.text):
            raise QuestionRefused(f"{shown} holds {match[0]!r}: it could set or switch something")
        object.__setattr__(self, "wire", self.text.encode("ascii") + ENDS[self.ends_with])


def _is_query(text: str) -> bool:
    try:
        ScpiQuestion(text)
    except QuestionRefused:
        return False
    return True
