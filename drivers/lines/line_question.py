"""A question in a maker's own plain protocol, checked: it cannot set or switch anything.

Nobody but the supply's manual knows what a plain text does. Numbered rules, each with its test:

1. A text that ends in "?" passes, and so does a query as SCPI writes it (`scpi_question.py`).
2. Without "?" each of its words must be one that asks: `ASKING`. A list of words that switch would
   never be complete.
3. Another text passes only where the user says `i_have_checked`: by the manual it changes nothing.
4. Never, whatever the user says: a number that could be a set value, "=", a word that sets.
"""

import re
from dataclasses import dataclass, field

from drivers.base.inert import inert
from drivers.errors import QuestionRefused
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.text_question import ENDS

CHECKED = "(checked)"
"""Behind a typed question: `i_have_checked`."""
_LONGEST = 32
_FORM = re.compile(r"[A-Za-z*:#@?$!/_ -][A-Za-z0-9*:#@?$!/_ -]*")
_NUMBER = re.compile(r"[0-9]{2}|(?:^|[ :,])[0-9]|[0-9](?=$)")
_SETTING = re.compile(
    r"(?<![A-Za-z])(?:ON|OFF|SET|RST|RESET|START|STOP|RUN|SAVE|STORE|RCL|RECALL|LOAD|WRITE|LOCK|REM|"
    r"REMOTE|RWL|LLO|CAL|TST|TEST|TRG|TRIG|CLR|CLEAR|ENABLE|DISABLE|ENTER|OUT|OUTP|OUTPUT)(?![A-Za-z?])",
    re.IGNORECASE,
)
_ASKING_WORDS = """
A ACT ACTUAL ALL AMP AMPS C CURR CURRENT DATA FETC FETCH GET I ID IDENT IDENTITY IDN
INFO IOUT IS MEAS MEASURE MODEL NAME NO NUM NUMBER Q QRY QUERY RD READ READING REPORT
SERIAL SHOW SN ST STA STAT STATE STATUS TELL TEMP TEMPERATURE U UOUT V VAL VALUE
VALUES VER VERS VERSION VI VOLT VOLTAGE VOLTS VOUT
"""
ASKING = frozenset(_ASKING_WORDS.split())
"""The words of which a question without "?" may consist; common practice, no source."""
_WORD = re.compile(r"[A-Za-z]+")


@dataclass(frozen=True, slots=True)
class LineQuestion:
    """One question in plain text.

    Parameters
    ----------
    text
        Such as "V?" or "READ".
    ends_with
        What ends it: a name of `ENDS`.
    i_have_checked
        The user has read in the manual that this text changes nothing.

    Raises
    ------
    QuestionRefused
        Where the text could set or switch something.

    Examples
    --------
    >>> LineQuestion("V1?", "CR").wire
    b'V1?\\r'
    >>> LineQuestion("REBOOT")
    Traceback (most recent call last):
    drivers.errors.QuestionRefused: 'REBOOT' is not known to be a question: if the manual ...
    >>> LineQuestion("VSET 12", "CR")
    Traceback (most recent call last):
    drivers.errors.QuestionRefused: 'VSET 12' holds a number: it could set something
    """

    text: str
    ends_with: str = "LF"
    i_have_checked: bool = field(default=False, compare=False)
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
        if not (self.i_have_checked or self.text.endswith("?") or _only_asks(self.text)):
            raise QuestionRefused(
                f"{shown} is not known to be a question: if the manual says that it changes "
                "nothing, write i_have_checked = true beside it; in commission type "
                f"'{inert(self.text)} {CHECKED}'"
            )
        object.__setattr__(self, "wire", self.text.encode("ascii") + ENDS[self.ends_with])


def typed_question(text: str, ends_with: str = "LF") -> LineQuestion:
    """The question that somebody typed, who may add that he has checked it.

    Examples
    --------
    >>> typed_question("DUMP (checked)").text
    'DUMP'
    """
    bare = text.removesuffix(CHECKED).rstrip()
    return LineQuestion(bare, ends_with, i_have_checked=bare != text)


def _only_asks(text: str) -> bool:
    words = _WORD.findall(text.upper())
    return bool(words) and ASKING.issuperset(words)


def _is_query(text: str) -> bool:
    try:
        ScpiQuestion(text)
    except QuestionRefused:
        return False
    return True
