"""Looks who is at the far end of a link that speaks text: unasked, by name, or to which questions.

Only questions are sent, and none that a supply could take for a setting. How a question must end is
tried with the first of them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from drivers.base.clock import Clock
from drivers.lines.line_question import LineQuestion
from drivers.link.asking_link import AskingLink
from drivers.link.link import Link
from drivers.text.answer import read_supply_error
from drivers.text.text_question import ENDS, wires
from monitor.setup.commission.endings import Answered, ask_once, is_refusal
from monitor.setup.commission.line_tokens import Digits, cut
from monitor.setup.commission.listening import heard_unasked

WHO = "*IDN?"
SLOW_TALKER_PATIENCES = 16.0
QUICK_SHARE = 0.5
"""Of the usual patience, for questions that most supplies do not know."""
# What supplies are asked for their measured values (common practice, no source). `VOLT?` comes
# last: to SCPI it is the set value.
PAIRS = (
    ("MEAS:VOLT?", "MEAS:CURR?"),
    ("V?", "I?"),
    ("READ?", "READ?"),
    ("U?", "I?"),
    ("VOUT?", "IOUT?"),
    ("MEAS?", "MEAS?"),
    ("DATA?", "DATA?"),
    ("MEAS:VOLT? (@1)", "MEAS:CURR? (@1)"),
    ("MEAS:VOLT? CH1", "MEAS:CURR? CH1"),
    ("MEAS:VOLT? 1", "MEAS:CURR? 1"),
    ("MEASURE:VOLTAGE?", "MEASURE:CURRENT?"),
    ("MEAS:VOLT:DC?", "MEAS:CURR:DC?"),
    ("MEASURE:VOLTAGE:DC?", "MEASURE:CURRENT:DC?"),
    (":FETC:VOLT?", ":FETC:CURR?"),
    ("MEAS1:VOLT?", "MEAS1:CURR?"),
    ("VOUT1?", "IOUT1?"),
    ("V1O?", "I1O?"),
    ("VOLT?", "CURR?"),
)
FIRST = 7
"""So many pairs are tried where it is not known how a question must end."""


@dataclass(frozen=True, slots=True)
class Look:
    """Who is there.

    Parameters
    ----------
    unasked
        A line that came by itself, where a second one followed; None for none.
    identity
        The answer to `*IDN?`; None where there is no proper one.
    ends_with
        The end of a question that brought any answer; None for none.
    ask_volts, ask_amps
        The first questions for them that were answered with a number; "" for none.
    heard
        What came that was no such answer, as refusals and noise.
    """

    unasked: str | None = None
    identity: Answered | None = None
    ends_with: str | None = None
    ask_volts: str = ""
    ask_amps: str = ""
    volts: Answered | None = None
    heard: tuple[str, ...] = ()


def look_around(link: Link, clock: Clock, patience_s: float, wants_values: bool = True) -> Look:
    """Look who is on an open link.

    Parameters
    ----------
    wants_values
        False asks one that names itself for nothing else.

    Raises
    ------
    DriverError
        Where the link fails.
    """
    unasked = heard_unasked(link, clock, patience_s)
    if unasked is not None:
        return Look(unasked=unasked)
    looking = _Looking(link, clock, patience_s)
    found = looking.who()
    if found.identity is not None and not wants_values:
        return found
    ends = [found.ends_with] if found.ends_with is not None else list(ENDS)
    pairs = PAIRS if found.ends_with is not None else (*PAIRS[:FIRST], PAIRS[-1])
    asked = looking.pair(pairs, ends, found)
    if asked.ends_with is None:
        unasked = heard_unasked(link, clock, patience_s, SLOW_TALKER_PATIENCES)
        if unasked is not None:
            return Look(unasked=unasked)
    texts = tuple(dict.fromkeys(looking.heard))
    return Look(
        None, asked.identity, asked.ends_with, asked.ask_volts, asked.ask_amps, asked.volts, texts
    )


class _Looking:
    """Asks one question after the other."""

    def __init__(self, link: Link, clock: Clock, patience_s: float) -> None:
        texts = {WHO, *(text for pair in PAIRS for text in pair)}
        self._questions = {(text, end): LineQuestion(text, end) for text in texts for end in ENDS}
        self._link = AskingLink(link, wires(self._questions.values()))
        self._clock = clock
        self._patience_s = patience_s
        self.heard: list[str] = []

    def who(self) -> Look:
        """The end of questions that is understood, and the name, if it has one."""
        for end in ENDS:
            answer = self._ask(WHO, end, self._patience_s) or self._ask(WHO, end, self._patience_s)
            if answer is None:
                continue
            again = self._ask(WHO, end, self._patience_s)
            if again is None or again.text != answer.text:
                self.heard.append(answer.text)
                continue
            if is_identity(answer.text):
                return Look(identity=again, ends_with=end)
            # A board may answer whatever it is asked with its values: that is no refusal.
            if is_refused(answer.text) or not has_number(answer.text):
                self.heard.append(answer.text)
            return Look(ends_with=end)
        return Look()

    def pair(self, pairs: Sequence[tuple[str, str]], ends: Sequence[str], who: Look) -> Look:
        """The first questions that are answered with numbers."""
        patience_s = QUICK_SHARE * self._patience_s
        for end in ends:
            for ask_volts, ask_amps in pairs:
                volts = self._number(ask_volts, end, patience_s)
                if volts is None:
                    continue
                if numbers(volts.text) > 1:
                    ask_amps = ask_volts
                elif self._number(ask_amps, end, patience_s) is None:
                    continue
                return Look(None, who.identity, end, ask_volts, ask_amps, volts)
        return who

    def _number(self, text: str, end: str, patience_s: float) -> Answered | None:
        answer = self._ask(text, end, patience_s)
        if answer is None or answer.text in self.heard:
            return None
        if is_refused(answer.text) or not has_number(answer.text):
            self.heard.append(answer.text)
            return None
        return answer

    def _ask(self, text: str, end: str, patience_s: float) -> Answered | None:
        return ask_once(self._link, self._clock, self._questions[text, end], patience_s)


def is_identity(text: str) -> bool:
    """Whether a text can be the answer to *IDN?: words between commas (IEEE 488.2, 10.14).

    Examples
    --------
    >>> is_identity("WORKSHOP,DC-12-10,A0001,1.0"), is_identity("12.0V,3.20A")
    (True, False)
    """
    has_name = any(sum(map(str.isalpha, field)) > 2 for field in text.split(","))
    return text.isprintable() and "," in text and has_name and not is_refused(text)


def is_refused(text: str) -> bool:
    """Whether an answer says that the question was not understood."""
    return is_refusal(text) or read_supply_error(text) is not None


def has_number(text: str) -> bool:
    """Whether a text holds a number, and no noise."""
    clean = all(c.isprintable() or c in "\n\t\x02\x03\x06" for c in text)
    return clean and any(character.isdigit() for character in text)


def numbers(text: str) -> int:
    """How many numbers with decimals, or at least numbers, a text holds."""
    tokens = [token for token in cut(text, Digits.POINT) if token.kind == "number"]
    return sum("." in token.text for token in tokens) or len(tokens)


def offers(look: Look) -> Iterator[tuple[str, str]]:
    """Questions that were answered, by the key of the prompt that they answer."""
    if look.ask_volts:
        yield "ask_volts", look.ask_volts
        yield "ask_amps", look.ask_amps
