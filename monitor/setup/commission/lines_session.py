"""A supply that speaks plain lines on an open link and an operator in, how it is asked out."""

import re

from drivers.base.clock import Clock
from drivers.commissioned import Seen
from drivers.errors import QuestionRefused
from drivers.lines.line_question import LineQuestion
from drivers.link.asking_link import AskingLink
from drivers.link.link import Link
from drivers.reply_times import ReplyTimes
from drivers.text.text_question import wires
from monitor.base.errors import WrongUse
from monitor.setup.commission.answers import Operator, PanelShown
from monitor.setup.commission.endings import Answered, Found, ask_once, find_endings
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.line_pattern import (
    STATES_TOLD,
    Pattern,
    find_pattern,
    find_state,
    state_table,
)
from monitor.setup.commission.listening import refuse_a_talker
from monitor.setup.commission.made import Made, time_to_answer
from monitor.setup.commission.panel import Shown, read_shown
from monitor.setup.commission.talker_session import commission_talker
from monitor.setup.commission.toml_text import Plain, Value

SETTINGS = 2
SILENCE_MS = 100
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")


def commission_lines(link: Link, clock: Clock, operator: Operator, patience_s: float) -> Made:
    """Find out how a supply's questions end, and where volts and amps stand in its answers.

    Raises
    ------
    NotCommissioned
        Where nothing comes, or what comes does not fit the panel.
    DriverError
        Where the link fails.
    """
    asked = {"volts": operator.answer("ask_volts"), "amps": operator.answer("ask_amps")}
    if not any(asked.values()):
        return commission_talker(link, clock, operator, patience_s)
    if not all(asked.values()):
        raise WrongUse(
            "name a question for volts and one for amps, the same where one answer holds both; "
            "none at all where the supply speaks by itself"
        )
    refuse_a_talker(link, clock, patience_s)
    identity_text, state_text = operator.answer("ask_identity"), operator.answer("ask_state")
    found = _endings(link, clock, asked["volts"], patience_s)
    ends_with = found.question_ends_with
    has_end = found.answer.ends_with != "none"
    if state_text and not has_end:
        raise NotCommissioned(
            f"its answers have no end ({found.answer.text!r}): a word for the state could be cut "
            "short unseen; leave the question for the state out"
        )
    operator.tell(
        f"questions end with {ends_with}, answers with {found.answer.ends_with}; "
        f"{asked['volts']} brings {found.answer.raw.hex(' ')} ({found.answer.text!r})"
    )
    questions = {text: _question(text, ends_with) for text in dict.fromkeys(asked.values())}
    identity = _question(identity_text, ends_with) if identity_text else None
    state = _question(state_text, ends_with) if state_text else None
    allowed = [*questions.values(), *(one for one in (identity, state) if one is not None)]
    asking = AskingLink(link, wires(allowed))
    seen: list[Seen] = []
    if identity is not None:
        _demand_same(asking, clock, identity, patience_s, seen)
    answers: dict[str, list[Answered]] = {text: [] for text in questions}
    shown: list[dict[str, Shown]] = []
    for count in range(1, SETTINGS + 1):
        panel = operator.set_panel(count)
        shown.append({"volts": read_shown(panel.volts), "amps": read_shown(panel.amps)})
        for text, question in questions.items():
            answer = _demand(ask_once(asking, clock, question, patience_s), question)
            answers[text].append(answer)
            seen.append(_seen(question, answer, panel))
            operator.tell(f"{text}: {answer.raw.hex(' ')} ({answer.text!r})")
    tables: list[dict[str, str | float]] = []
    patterns: list[Pattern] = []
    for text, came in answers.items():
        names = [name for name, question_text in asked.items() if question_text == text]
        if {one.ends_with for one in came} != {found.answer.ends_with}:
            raise NotCommissioned(f"the answers to {text} have inconsistent line endings")
        pattern = find_pattern(
            [one.text for one in came],
            [{name: one[name] for name in names} for one in shown],
            has_end and state is None and not any(one.tells_state for one in patterns),
        )
        patterns.append(pattern)
        tables.append(_table(text, pattern, operator.answer("source")))
    times = ReplyTimes()
    for answer in [one for came in answers.values() for one in came]:
        times.add(answer.took_s)
    operator.tell(times.words())
    made: dict[str, Value] = {"talk": _talk(ends_with, found.answer, patterns, times)}
    if identity is not None:
        made["identity"] = {"ask": identity_text, "source": operator.answer("source")}
    made["answer"] = tables
    if state is not None:
        answer = _demand(ask_once(asking, clock, state, patience_s), state)
        operator.tell(f"{state_text}: {answer.raw.hex(' ')} ({answer.text!r})")
        seen.append(Seen(state_text, answer.raw.hex(" "), ""))
        source = operator.answer("source")
        tables.append({"ask": state_text, "pattern": find_state(answer.text), "source": source})
    if state is not None or any(pattern.tells_state for pattern in patterns):
        made["status"] = state_table(operator.answer("source"))
        operator.tell(STATES_TOLD)
    forms = "; ".join(pattern.text for pattern in patterns)
    choice = f"the only numbers that are what the panel showed at both settings: {forms}"
    return Made(made, choice, tuple(seen))


def _endings(link: Link, clock: Clock, text: str, patience_s: float) -> Found:
    return find_endings(
        link,
        clock,
        lambda end: _question(text, end),
        lambda answer: answer.isprintable() and bool(_NUMBER.search(answer)),
        patience_s,
        shape=lambda answer: _NUMBER.sub("#", answer),
    )


def _question(text: str, ends_with: str) -> LineQuestion:
    try:
        return LineQuestion(text, ends_with)
    except QuestionRefused as error:
        raise WrongUse(str(error)) from error


def _demand(answer: Answered | None, question: LineQuestion) -> Answered:
    if answer is None:
        raise NotCommissioned(f"asked {question.text}, nothing came: is it right by the manual?")
    return answer


def _demand_same(
    asking: AskingLink, clock: Clock, question: LineQuestion, patience_s: float, seen: list[Seen]
) -> None:
    first, second = (
        _demand(ask_once(asking, clock, question, patience_s), question) for _ in range(2)
    )
    if first.text != second.text:
        raise NotCommissioned(
            f"{question.text} is answered by {first.text!r}, then by {second.text!r}: name a "
            "question with the same answer each time, or none"
        )
    seen.append(Seen(question.text, first.raw.hex(" "), ""))


def _seen(question: LineQuestion, answer: Answered, panel: PanelShown) -> Seen:
    return Seen(question.text, answer.raw.hex(" "), panel.words)


def _talk(
    ends_with: str, answer: Answered, patterns: list[Pattern], times: ReplyTimes
) -> dict[str, Plain]:
    talk: dict[str, Plain] = {"question_ends_with": ends_with}
    if answer.ends_with == "none":
        talk |= {"answer_ends_with": "silence", "silence_ms": SILENCE_MS}
    signs = {pattern.decimal_sign for pattern in patterns}
    if signs == {","}:
        talk["decimal_sign"] = ","
    return talk | time_to_answer(times)


def _table(text: str, pattern: Pattern, source: str) -> dict[str, str | float]:
    scales = {f"{name}_scale": scale for name, scale in pattern.scales.items() if scale != 1.0}
    return {"ask": text, "pattern": pattern.text, **scales, "source": source}
