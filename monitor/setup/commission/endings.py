"""Finds how a question must end on a link, and how answers end there.

Numbered rules, each with its test:

1. Endings are tried one after the other; each question is asked until the same answer has come
   twice in a row, or nothing comes. The first asking with an ending also clears away what an
   earlier one left in the supply.
2. Before each question the line must be quiet, and an answer ends with a silence of `GAP_S`.
3. An answer that comes after all to a question asked before is noticed: the last word is a
   question asked after a silence of twice the patience, and it must be answered as before.
4. Our own question coming back (an echo) is not an answer, nor is a prompt or a line "OK".
5. Where no ending brings an answer, one of three causes is told: no bytes at all; bytes, but not
   for us; or the question was refused.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.link.asking_link import AskingLink
from drivers.link.link import Link, after, drain
from drivers.text.text_question import ENDS, TextQuestion, wires
from monitor.setup.commission.errors import NotCommissioned

PATIENCE_S = 0.8
LATE = "answers come later than waited for"
GAP_S = 0.15
QUIET_S = 0.05
LONGEST_ANSWER = 4096
_LINE_END = re.compile(rb"\r\n|\n\r|\n|\r")
_ACKNOWLEDGED = re.compile(r"OK|ACK|READY|DONE", re.IGNORECASE)
_REFUSAL = re.compile(
    r"^\s*[#*!]?E[:_-]?[0-9]{1,3}\s*$|\bERR|unknown|invalid|syntax|undefined|illegal|"
    r"bad command|what\?",
    re.IGNORECASE,
)
_NAMES = {b"\n": "LF", b"\r": "CR", b"\r\n": "CR LF", b"\n\r": "LF CR", None: "none"}

Ask = Callable[[str], TextQuestion]
"""Makes the question with the ending of that name; refuses what is not a question."""


@dataclass(frozen=True, slots=True)
class Answered:
    """What came.

    Parameters
    ----------
    raw
        The bytes, without an echo.
    text
        Each byte one character, without its end and what is to be ignored; lines are joined by LF.
    ends_with
        The name of its end: "LF", "CR", "CR LF", "LF CR" or "none".
    took_s
        From the question to the last byte.
    ignored
        What stood around it and means nothing, such as a prompt "> " or a line "OK".
    """

    raw: bytes
    text: str
    ends_with: str
    took_s: float
    ignored: tuple[str, ...] = ()

    @property
    def lines(self) -> int:
        """How many lines it has."""
        return self.text.count("\n") + 1


@dataclass(frozen=True, slots=True)
class Found:
    """How question and answer end on one link."""

    question_ends_with: str
    answer: Answered


def find_endings(
    link: Link,
    clock: Clock,
    ask: Ask,
    is_good: Callable[[str], bool],
    patience_s: float = PATIENCE_S,
    shape: Callable[[str], str] = str,
) -> Found:
    """Find the ending that the supply at the other end understands.

    Parameters
    ----------
    link
        Open, and used by nobody else.
    is_good
        Whether a text can be the answer; what else comes, such as an error, is not.
    patience_s
        The longest wait for an answer.
    shape
        What of an answer must be the same the second time; by default all of it.

    Raises
    ------
    NotCommissioned
        Where no ending brings an answer, telling what came.
    DriverError
        Where the link fails.
    """
    questions = {name: ask(name) for name in ENDS}
    asking = AskingLink(link, wires(questions.values()))
    heard: list[str] = []
    for name, question in questions.items():
        answer = _same_twice(asking, clock, question, is_good, patience_s, shape, heard)
        if answer is None:
            continue
        drain(asking, clock, 2 * patience_s, after(clock, 4 * patience_s))
        again = ask_once(asking, clock, question, patience_s)
        if again is not None and shape(again.text) == shape(answer.text):
            return Found(name, again)
        heard.append(LATE)
    raise NotCommissioned(
        f"{link.place}: sent {ask('none').text} ending in {', '.join(ENDS)}: {_cause(heard)}"
    )


def _cause(heard: list[str]) -> str:
    """Which of the three causes fits what came, with the cure."""
    if LATE in heard:
        return f"{LATE}: name a longer --timeout-s"
    came = "; ".join(f"it said {inert(text, 40)!r}" for text in dict.fromkeys(heard))
    if not heard:
        return (
            "no bytes at all came. Check that the supply is on, cable, baud rate and parity, and "
            "that its manual knows this question; a slow supply needs --timeout-s"
        )
    if any(is_refusal(text) for text in heard):
        return f"refused: {came}. It hears us, but does not know this question: see its manual"
    return (
        f"bytes came, but not for us: {came}. Check baud rate and parity, and whether it is the "
        "right question; another program or supply may talk on this line"
    )


def _same_twice(
    link: AskingLink,
    clock: Clock,
    question: TextQuestion,
    is_good: Callable[[str], bool],
    patience_s: float,
    shape: Callable[[str], str],
    heard: list[str],
) -> Answered | None:
    before: Answered | None = None
    silences = 0
    for _ in range(4):
        answer = ask_once(link, clock, question, patience_s)
        if answer is None:
            silences += 1
            if silences == 2:
                return None
            continue
        if not is_good(answer.text):
            heard.append(answer.text)
            continue
        if before is not None and shape(before.text) == shape(answer.text):
            return answer
        before = answer
    return None


def ask_once(
    link: AskingLink, clock: Clock, question: TextQuestion, patience_s: float
) -> Answered | None:
    """Ask once the line is quiet; what came until it is quiet again, None for nothing."""
    drain(link, clock, QUIET_S, after(clock, patience_s))
    asked_ns = clock.monotonic_ns()
    link.write(question.wire, after(clock, patience_s))
    raw, took_ns = b"", 0
    deadline_ns = after(clock, patience_s)
    last_ns = after(clock, 2 * patience_s + 2.0)
    while data := link.read(deadline_ns):
        raw += data
        took_ns = clock.monotonic_ns() - asked_ns
        if len(raw) > LONGEST_ANSWER or clock.monotonic_ns() >= last_ns:
            break
        # While only an echo has come, the answer itself may take its time.
        is_echo = question.wire.startswith(raw)
        deadline_ns = after(clock, patience_s if is_echo else GAP_S)
    return dissect(raw, question, took_ns / 1e9)


def dissect(raw: bytes, question: TextQuestion, took_s: float = 0.0) -> Answered | None:
    r"""The answer in what came after a question; None for none.

    A text behind the last line's end is a prompt; without an end it is the answer.

    Examples
    --------
    >>> from drivers.lines.line_question import LineQuestion
    >>> answer = dissect(b"V?\r\n12.50\r\nOK\r\n> ", LineQuestion("V?", "CR LF"))
    >>> answer.text, answer.ends_with, answer.ignored
    ('12.50', 'CR LF', ('> ', 'OK'))
    """
    # The same letters may begin its answer: without an end only a "?" tells an echo.
    if question.wire[-1:] in b"\r\n?":
        raw = raw.removeprefix(question.wire)
    body = raw.replace(b"\0", b"")
    ends = _LINE_END.findall(body)
    *lines, rest = [piece.decode("latin-1") for piece in _LINE_END.split(body)]
    has_end = any(line.strip() not in ("", question.text) for line in lines)
    if has_end and any(map(str.isdigit, rest)):
        has_end, lines, rest = False, [], body.strip(b"\r\n").decode("latin-1")
    ignored = [rest] if has_end and rest.strip() else []
    texts: list[str] = []
    for line in lines if has_end else (rest,):
        bare = line.removeprefix(rest) if has_end else line
        if bare.strip() in ("", question.text):
            continue
        if _ACKNOWLEDGED.fullmatch(bare.strip()) and len(lines) > 1:
            ignored.append(bare.strip())
        else:
            texts.append(bare)
    if not texts:
        texts, ignored = ignored[:1], []
    if not texts:
        return None
    ending = _NAMES[ends[-1]] if has_end else "none"
    return Answered(raw, "\n".join(texts), ending, took_s, tuple(dict.fromkeys(ignored)))


def is_refusal(text: str) -> bool:
    """Whether a text says that a question was not understood.

    Examples
    --------
    >>> is_refusal("ERR 02"), is_refusal("?"), is_refusal("ERIC,PS-15,A1,1.0")
    (True, True, False)
    """
    return bool(_REFUSAL.search(text)) or text.strip() in ("?", "!", "NAK", "NACK", "NG")
