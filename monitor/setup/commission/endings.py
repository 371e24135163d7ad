"""Finds how a question must end on a link, and how answers end there.

Numbered rules, each with its test:

1. Endings are tried one after the other; each question is asked until the same answer has come
   twice in a row, or nothing comes. The first asking with an ending also clears away what an
   earlier one left in the supply.
2. Before each question the line must be quiet, and an answer ends with a silence of `GAP_S`.
3. An answer that comes after all to a question asked before is noticed: the last word is a
   question asked after a silence of twice the patience, and it must be answered as before.
4. Our own question coming back (an echo) is not an answer.
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
GAP_S = 0.15
QUIET_S = 0.05
LONGEST_ANSWER = 4096
_ANSWER_END = re.compile(rb"(\r\n|\n\r|\n|\r)?\Z")
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
        Each byte one character, without its end.
    ends_with
        The name of its end: "LF", "CR", "CR LF", "LF CR" or "none".
    took_s
        From the question to the last byte.
    """

    raw: bytes
    text: str
    ends_with: str
    took_s: float


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
        heard.append("another answer than the one before: answers come later than waited for")
    shown = ask("none").wire.decode("latin-1")
    came = "; ".join(dict.fromkeys(heard)) or "nothing came"
    raise NotCommissioned(
        f"{link.place}: sent {shown} ending in {', '.join(ENDS)}: {came}. Check that the supply "
        "is on, cable, baud rate and parity; a slow supply needs --timeout-s"
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
            heard.append(f"{len(answer.raw)} bytes came, {inert(answer.text, 40)!r}")
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
    raw = raw.removeprefix(question.wire)
    if not raw.strip(b"\r\n\0"):
        return None
    end = _ANSWER_END.search(raw)
    ending = None if end is None else end[1]
    text = raw.strip(b"\r\n\0").decode("latin-1")
    return Answered(raw, text, _NAMES[ending], took_ns / 1e9)
