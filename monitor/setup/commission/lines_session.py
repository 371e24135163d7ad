"""Commissions a supply that answers in plain lines: how it is asked, and how its answers are read.

It finds how questions and answers end, what stands around the answers, and where volts and amps
stand in them.
"""

import re
from collections.abc import Mapping

from drivers.base.clock import Clock
from drivers.commissioned import Seen
from drivers.errors import Reopen
from drivers.lines.line_question import typed_question
from drivers.link.asking_link import AskingLink
from drivers.link.link import Link, after
from drivers.reply_times import ReplyTimes
from drivers.text.text_question import wires
from monitor.setup.commission.choice import chosen
from monitor.setup.commission.endings import Answered, Found, ask_once, find_endings
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.found_form import STATES_TOLD, Pattern, only_choice, state_table
from monitor.setup.commission.line_pattern import find_state
from monitor.setup.commission.listening import refuse_a_talker, shape
from monitor.setup.commission.look import has_number, is_identity, is_refused
from monitor.setup.commission.made import Made, time_to_answer
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.panel import Panel, panel_text
from monitor.setup.commission.questionnaire import LINES, Answers
from monitor.setup.commission.toml_text import Plain, Value

SILENCE_MS = 100
SAMPLES = 3
"""So often each question is asked at each setting: a last digit that moves shows its zeros."""
CONNECT_S = 3.0
WHO = "*IDN?"
QUANTITIES = ("volts", "amps")


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
    identity = session.identity(answers["ask_identity"])
    patterns = session.patterns(session.at_each_setting(), has_end and not answers["ask_state"])
    operator.tell(session.times.words())
    session.tell_what_is_unproven(patterns, identity)
    source = answers["source"]
    lengths = {} if has_end else session.lengths(patterns)
    tables: dict[str, Value] = {"talk": session.talk(list(patterns.values()), bool(lengths))}
    if identity is not None:
        extent = session.extent(identity, lengths)
        tables["identity"] = {**_asking(identity), **extent, "source": source}
    forms: list[Mapping[str, Value]] = [
        {**_asking(text), **session.extent(text, lengths), **pattern.table(source)}
        for text, pattern in patterns.items()
    ]
    if answers["ask_state"]:
        state = session.ask(answers["ask_state"])
        operator.tell(_told(answers["ask_state"], state))
        forms.append(
            {**_asking(answers["ask_state"]), "pattern": find_state(state.text), "source": source}
        )
    tables["answer"] = forms
    if answers["ask_state"] or any(pattern.tells_state for pattern in patterns.values()):
        tables["status"] = state_table(source)
        operator.tell(STATES_TOLD)
    return Made(tables, only_choice(list(patterns.values())), tuple(session.seen), LINES)


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
            text: typed_question(text, ends.question_ends_with)
            for text in (*self._asked.values(), answers["ask_state"], answers["ask_identity"], WHO)
            if text
        }
        self._link = AskingLink(link, wires(self._questions.values()))
        self._came: dict[str, list[Answered]] = {}

    def ask(self, text: str, shown: str = "") -> Answered:
        answer = self._ask(text)
        if answer is None:
            raise NotCommissioned(
                f"asked {text}, no bytes at all came: check the question in the manual"
            )
        if is_refused(answer.text) and not has_number(answer.text):
            raise NotCommissioned(
                f"asked {text}, refused: it said {answer.text!r}: check the question in the manual"
            )
        self._came.setdefault(text, []).append(answer)
        self.seen.append(Seen(text, answer.raw.hex(" "), shown))
        return answer

    def _ask(self, text: str) -> Answered | None:
        """Ask; twice for a byte lost, and again when a cable that came off is back."""
        for _ in range(2):
            while True:
                try:
                    answer = ask_once(
                        self._link, self._clock, self._questions[text], self._patience_s
                    )
                    break
                except Reopen as error:
                    if not self._operator.link_is_back(str(error)):
                        raise
                    self._link.close()
                    self._link.open(after(self._clock, CONNECT_S))
            if answer is not None:
                return answer
        return None

    def identity(self, text: str) -> str | None:
        """The question for who it is, once it was answered alike twice; None for none."""
        if text:
            first, second = self.ask(text), self.ask(text)
            self.seen.pop()
            if first.text != second.text:
                raise NotCommissioned(
                    f"{text} is answered by {first.text!r}, then by {second.text!r}: name a "
                    "question with the same answer each time, or none"
                )
            return text
        answers = [self._ask(WHO)]
        if answers[0] is not None:
            answers.append(self._ask(WHO))
        texts = {answer.text for answer in answers if answer is not None}
        if len(answers) < 2 or len(texts) != 1 or not is_identity(name := texts.pop()):
            return None
        self._came[WHO] = [answer for answer in answers if answer is not None]
        self._operator.tell(f"it names itself when asked {WHO}: {name!r}")
        return WHO

    def at_each_setting(self) -> list[tuple[Panel, dict[str, list[Answered]]]]:
        """What the panel showed and the supply answered, by the question."""
        answered = []
        for panel in self._operator.settings(QUANTITIES):
            came: dict[str, list[Answered]] = {}
            for number in range(SAMPLES):
                for text in dict.fromkeys(self._asked.values()):
                    answer = self.ask(text, panel_text(panel))
                    came.setdefault(text, []).append(answer)
                    self.times.add(answer.took_s)
                    if number == 0:
                        self._operator.tell(_told(text, answer))
                    else:
                        self.seen.pop()
            answered.append((panel, came))
        return answered

    def patterns(
        self, answered: list[tuple[Panel, dict[str, list[Answered]]]], may_tell_state: bool
    ) -> dict[str, Pattern]:
        """How the answers are read, by the question; one of them at most tells the state."""
        patterns: dict[str, Pattern] = {}
        for text in dict.fromkeys(self._asked.values()):
            came = [(panel, one) for panel, answers in answered for one in answers[text]]
            names = [name for name, asked in self._asked.items() if asked == text]
            if {answer.ends_with for _, answer in came} != {self._ends.answer.ends_with}:
                raise NotCommissioned(f"the answers to {text} have inconsistent line endings")
            patterns[text] = chosen(
                f"the answer to {text}",
                [answer.text for _, answer in came],
                [{name: panel[name] for name in names} for panel, _ in came],
                self._operator,
                may_tell_state and not any(each.tells_state for each in patterns.values()),
            )
        return patterns

    def tell_what_is_unproven(self, patterns: Mapping[str, Pattern], identity: str | None) -> None:
        """Say so where an answer could be taken for that to another question."""
        shapes = {shape(self._came[text][0].text) for text in patterns}
        if identity is None and len(shapes) < len(patterns):
            self._operator.tell(
                "its answers do not say which quantity they are, and no question has a known "
                "answer: their order is proven by silence behind them only. A question for its "
                "name or serial number proves it better (docs/LINKS.md)"
            )

    def lengths(self, patterns: Mapping[str, Pattern]) -> dict[str, int]:
        """The length of each answer, where only that tells a whole one from one cut short."""
        if not any(
            _is_cut_unseen(patterns[text], answer.text)
            for text in patterns
            for answer in self._came[text]
        ):
            return {}
        lengths: dict[str, int] = {}
        for text, came in self._came.items():
            counts = {len(answer.text) for answer in came}
            if len(counts) > 1:
                shown = " and ".join(sorted({repr(answer.text) for answer in came}))
                raise NotCommissioned(
                    f"the answers to {text} have neither an end nor one length ({shown}): nobody "
                    "could tell a whole one from one cut short. See in the manual whether the "
                    "supply can be set to end its answers"
                )
            lengths[text] = counts.pop()
        return lengths

    def extent(self, text: str, lengths: Mapping[str, int]) -> dict[str, Plain]:
        """How long the answer to a question is, where no single end says so."""
        if lengths:
            return {"length": lengths[text]}
        counts = {answer.lines for answer in self._came.get(text, ())}
        if len(counts) > 1:
            raise NotCommissioned(f"the answers to {text} have now more and now fewer lines")
        return {"lines": counts.pop()} if counts and counts != {1} else {}

    def talk(self, patterns: list[Pattern], has_lengths: bool) -> dict[str, Value]:
        """The `[talk]` of the description."""
        talk: dict[str, Value] = {"question_ends_with": self._ends.question_ends_with}
        if has_lengths:
            talk["answer_ends_with"] = "length"
        elif self._ends.answer.ends_with == "none":
            talk |= {"answer_ends_with": "silence", "silence_ms": SILENCE_MS}
        if {pattern.decimal_sign for pattern in patterns} == {","}:
            talk["decimal_sign"] = ","
        ignored = [text for came in self._came.values() for one in came for text in one.ignored]
        if ignored:
            talk["ignore"] = list(dict.fromkeys(ignored))
        return talk | time_to_answer(self.times)


def _is_cut_unseen(pattern: Pattern, text: str) -> bool:
    if not pattern.text:
        return bool(pattern.columns)
    form = re.compile(pattern.text, re.ASCII)
    return any(form.fullmatch(text[:end]) for end in range(1, len(text)))


def _asking(typed: str) -> dict[str, Plain]:
    """The question as a description names it."""
    question = typed_question(typed)
    checked: dict[str, Plain] = {"i_have_checked": True} if question.i_have_checked else {}
    return {"ask": question.text, **checked}


def _endings(link: Link, clock: Clock, text: str, patience_s: float) -> Found:
    return find_endings(
        link,
        clock,
        lambda end: typed_question(text, end),
        lambda answer: has_number(answer) and not is_refused(answer),
        patience_s,
        shape=shape,
    )


def _told(text: str, answer: Answered) -> str:
    return f"{text}: {answer.raw.hex(' ')} ({answer.text!r})"
