"""A question in SCPI, checked: it cannot set or start anything.

Numbered rules, each with its test:

1. A question is one or more headers joined by ";", and each ends in "?". A setting such
   as `VOLT 5`, `OUTP ON` or `*RST` is not of that form, so it cannot be made into a question.
2. Behind the "?" only a channel may stand: `(@1)`, `CH1`, `1` or `,1`. A number has one digit
   there, and no point: it is no set value.
3. Questions that act (self-test, calibration, trigger) are no questions here.
"""

import re
from dataclasses import dataclass, field

from drivers.base.inert import inert
from drivers.errors import QuestionRefused
from drivers.text.text_question import ENDS

# A channel list as SCPI-1999 volume 1, 8.3.2 writes it, a channel's name, or its number.
_CHANNEL = r"(?:\(@[0-9]{1,4}(?:[,:][0-9]{1,4}){0,7}\)|[A-Za-z]{1,8}[0-9]{1,2}[A-Za-z]?|[0-9])"
# IEEE 488.2-1992, 7.6.1.2: a query's header ends in "?"; its parameters follow a space.
_HEADER = re.compile(
    r"(?::?[A-Za-z][A-Za-z0-9_]*(?::[A-Za-z][A-Za-z0-9_]*)*\?"
    rf"(?:[ ,]{_CHANNEL}(?:, ?{_CHANNEL}){{0,2}})?|\*[A-Za-z]{{3,4}}\?)"
)
# IEEE 488.2-1992, 10.2 and 10.38: *CAL? and *TST? make the instrument do something.
_ACTING = re.compile(r":?(?:\*CAL|\*TST|CAL(?:IBRATION)?|TEST|DIAG(?:NOSTIC)?|INIT(?:IATE)?)\b")
_LONGEST = 240


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
    >>> ScpiQuestion("MEAS:VOLT? (@1)").text
    'MEAS:VOLT? (@1)'
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
