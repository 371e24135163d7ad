"""Commissions a supply that answers in plain lines: how it is asked, and how its answers are read.

It finds how questions and answers end, and where volts and amps stand in the answers.
"""

import re

from drivers.base.clock import Clock
from drivers.commissioned import Seen
from drivers.lines.line_question import LineQuestion
from drivers.link.asking_link import AskingLink
from drivers.link.link import Link
from drivers.reply_times import ReplyTimes
from drivers.text.text_question import wires
from monitor.setup.commission.endings import Answered, Found, ask_once, find_endings
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.line_pattern import (
    STATES_TOLD,
    Pattern,
    find_pattern,
    find_state,
    only_choice,
    state_table,
)
from monitor.setup.commission.listening import refuse_a_talker
from monitor.setup.commission.made import Made, time_to_answer
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.panel import Panel, panel_text
from monitor.setup.commission.questionnaire import Answers
from monitor.setup.commission.toml_text import Plain, Value

SILENCE_MS = 100
QUANTITIES = ("volts", "amps")
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")


def commission_lines(
    link: Link, clock: Clock, answers: Answers, operator: Operator, patience_s: float
) -> Made:
    """Commission a supply on an open link.

    Raises
    ------
    NotCommissioned
        Where nothing comes, or what comes does not fit the panel.
    DriverError
        Where the link fails.
    """
    refuse_a_talker(link, clock, patience_s)
    ends = _endings(link, clock, answers["ask_volts"], patience_s)
    has_end = ends.answer.ends_with != "none"
    if answers["ask_state"] and not has_end:
        raise NotCommissioned(
            f"its answers have no end ({ends.answer.text!r}): a word for the state could be cut "
            "short unseen; leave the question for the state out"
        )
    operator.tell(
        f"questions end with {ends.question_ends_with}, answers with {ends.answer.ends_with}; "
        f"{_told(answers['ask_volts'], ends.answer)}"
    )
    session = _Session(link, clock, answers, operator, patience_s, ends)
    if answers["ask_identity"]:
        session.demand_same(answers["ask_identity"])
    patterns = session.patterns(session.at_each_setting(), has_end and not answers["ask_state"])
    operator.tell(session.times.words())
    source = answers["source"]
    tables: dict[str, Value] = {"talk": _talk(ends, list(patterns.values()), session.times)}
    if answers["ask_identity"]:
        tables["identity"] = {"ask": answers["ask_identity"], "source": source}
    forms = [{"ask": text, **pattern.table(source)} for text, pattern in patterns.items()]
    if answers["ask_state"]:
        state = session.ask(answers["ask_state"])
        operator.tell(_told(answers["ask_state"], state))
        pattern = find_state(state.text)
        forms.append({"ask": answers["ask_state"], "pattern": pattern, "source": source})
    tables["answer"] = forms
    if answers["ask_state"] or any(pattern.tells_state for pattern in patterns.values()):
        tables["status"] = state_table(source)
        operator.tell(STATES_TOLD)
    return Made(tables, only_choice(list(patterns.values())), tuple(session.seen))


class _Session:
    """Asks a supply whose endings are known, and keeps what it answered."""

    def __init__(
        self,
        link: Link,
        clock: Clock,
        answers: Answers,
        operator: Operator,
        patience_s: float,
        ends: Found,
    ) -> None:
        self.seen: list[Seen] = []
        self.times = ReplyTimes()
        self._clock = clock
        self._operator = operator
        self._patience_s = patience_s
        self._ends = ends
        self._asked = {name: answers[f"ask_{name}"] for name in QUANTITIES}
        self._questions = {
            text: LineQuestion(text, ends.question_ends_with)
            for text in (*self._asked.values(), answers["ask_state"], answers["ask_identity"])
            if text
        }
        self._link = AskingLink(link, wires(self._questions.values()))

    def ask(self, text: str, shown: str = "") -> Answered:
        answer = ask_once(self._link, self._clock, self._questions[text], self._patience_s)
        if answer is None:
            raise NotCommissioned(f"asked {text}, nothing came: check the question in the manual")
        self.seen.append(Seen(text, answer.raw.hex(" "), shown))
        return answer

    def demand_same(self, text: str) -> None:
        first = self.ask(text)
        second = self.ask(text)
        self.seen.pop()
        if first.text != second.text:
            raise NotCommissioned(
                f"{text} is answered by {first.text!r}, then by {second.text!r}: name a "
                "question with the same answer each time, or none"
            )

    def at_each_setting(self) -> list[tuple[Panel, dict[str, Answered]]]:
        """What the panel showed and the supply answered, by the question."""
        answered = []
        for panel in self._operator.settings(QUANTITIES):
            came = {}
            for text in dict.fromkeys(self._asked.values()):
                came[text] = self.ask(text, panel_text(panel))
                self.times.add(came[text].took_s)
                self._operator.tell(_told(text, came[text]))
            answered.append((panel, came))
        return answered

    def patterns(
        self, answered: list[tuple[Panel, dict[str, Answered]]], may_tell_state: bool
    ) -> dict[str, Pattern]:
        """How the answers are read, by the question; one of them at most tells the state."""
        patterns: dict[str, Pattern] = {}
        for text in dict.fromkeys(self._asked.values()):
            came = [answers[text] for _, answers in answered]
            names = [name for name, asked in self._asked.items() if asked == text]
            if {answer.ends_with for answer in came} != {self._ends.answer.ends_with}:
                raise NotCommissioned(f"the answers to {text} have inconsistent line endings")
            patterns[text] = find_pattern(
                [answer.text for answer in came],
                [{name: panel[name] for name in names} for panel, _ in answered],
                may_tell_state and not any(each.tells_state for each in patterns.values()),
            )
        return patterns


def _endings(link: Link, clock: Clock, text: str, patience_s: float) -> Found:
    return find_endings(
        link,
        clock,
        lambda end: LineQuestion(text, end),
        lambda answer: answer.isprintable() and bool(_NUMBER.search(answer)),
        patience_s,
        shape=lambda answer: _NUMBER.sub("#", answer),
    )


def _told(text: str, answer: Answered) -> str:
    return f"{text}: {answer.raw.hex(' ')} ({answer.text!r})"


def _talk(ends: Found, patterns: list[Pattern], times: ReplyTimes) -> dict[str, Plain]:
    talk: dict[str, Plain] = {"question_ends_with": ends.question_ends_with}
    if ends.answer.ends_with == "none":
        talk |= {"answer_ends_with": "silence", "silence_ms": SILENCE_MS}
    if {pattern.decimal_sign for pattern in patterns} == {","}:
        talk["decimal_sign"] = ","
    return talk | time_to_answer(times)
