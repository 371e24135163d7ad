"""Commissions a supply that speaks SCPI: how its questions end, and which of them it answers.

The driver itself finds out what the supply answers: it is opened on a draft of the description.
"""

import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from importlib import resources
from typing import cast

from drivers.base.clock import Clock
from drivers.commissioned import Seen
from drivers.driver import DriverSetUp
from drivers.errors import AskAgain, NotUnderstood, Reopen
from drivers.link.asking_link import AskingLink
from drivers.link.link import Link, after
from drivers.reading import Reading
from drivers.scpi.scpi import ScpiDriver, open_scpi
from drivers.text.answer import read_number
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.text_question import wires
from monitor.setup.commission.endings import Found, ask_once, find_endings
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.lines_session import commission_lines
from monitor.setup.commission.look import is_identity
from monitor.setup.commission.made import RESTS_MS, Made, draft, time_to_answer
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.panel import Panel, panel_text
from monitor.setup.commission.questionnaire import SCPI, Answers
from monitor.setup.commission.toml_text import Document, Plain, Value, toml_text

CONNECT_S = 3.0
READINGS = 5
"""To begin with, for the pace alone."""
SHIPPED = "scpi-dc-supply.toml"
UNITS = {"volts": "V", "amps": "A"}
QUESTIONS_OF_SCPI = {"volts": "MEAS:VOLT?", "amps": "MEAS:CURR?"}
WHO = "*IDN?"


def commission_scpi(
    link: Link, set_up: DriverSetUp, answers: Answers, operator: Operator, patience_s: float
) -> Made:
    """Commission a supply; what it says must be what its panel shows.

    Parameters
    ----------
    link
        Closed; leads to the address of `set_up`.

    Raises
    ------
    NotCommissioned
        Where nothing comes, or another value than the panel shows.
    DriverError
        Where the link fails.
    """
    answers = _with_questions(answers, operator)
    ends = _scpi_endings(link, set_up.clock, answers, patience_s)
    if ends is None:
        operator.tell(
            "it does not keep to SCPI in all its answers: they are read as plain lines of text"
        )
        link.open(after(set_up.clock, CONNECT_S))
        return commission_lines(link, set_up.clock, answers, operator, patience_s)
    ends_with = ends.question_ends_with
    operator.tell(f"{ends.answer.text!r} answers; questions end with {ends_with}")
    tables = _shipped()
    talk: dict[str, Plain] = {"question_ends_with": ends_with, "quiet_ms": 30}
    if ends.answer.took_s > set_up.timeout_s / 3:
        talk["answer_within_s"] = round(3 * ends.answer.took_s, 1)
    tables["talk"] = talk
    for name, unit in UNITS.items():
        if (text := answers[f"ask_{name}"]) != QUESTIONS_OF_SCPI[name]:
            tables[name] = {"ask": text, "unit": unit, "source": answers["source"]}
    seen = [Seen("*IDN?", ends.answer.raw.hex(" "), "")]
    rest_ms = _rest_ms(set_up, tables, talk)
    if rest_ms:
        talk["rest_ms"] = rest_ms
    with _opened(set_up, tables) as driver:
        manner = driver.manner
        for _ in range(READINGS):
            driver.read()
        for panel in operator.settings(tuple(UNITS)):
            reading = driver.read()
            _demand_fit(reading, panel)
            says = f"{reading.volts:g} V, {reading.amps:g} A, {reading.mode.word}"
            operator.tell(f"it says {says}")
            raw = says.encode("ascii", "replace").hex(" ")
            seen.append(Seen("volts and amps", raw, panel_text(panel)))
    operator.tell(driver.times.words())
    talk |= time_to_answer(driver.times)
    if manner is None:
        raise NotCommissioned(f"{set_up.address.text}: the supply answers none of its questions")
    is_joined = len(manner.values) == 1
    tables["talk"] = {**talk, "together": "always" if is_joined else "never"}
    known = [
        register.question.text
        for register in manner.registers
        if register.question.text not in driver.contradicted
    ]
    for text, mode in driver.contradicted.items():
        operator.tell(f"{text} says {mode.word} while the panel shows current: it is left out")
    status = cast(list[Document], tables.pop("status", []))
    if kept := [table for table in status if table["ask"] in known]:
        tables["status"] = kept
    opening = [question.text for question in manner.on_open]
    if not opening:
        tables.pop("on_open", None)
    choice = (
        f"volts and amps {'in one message' if is_joined else 'each in a message of its own'}; "
        f"states from {', '.join(known) or 'nothing'}"
    )
    return Made(tables, choice, tuple(seen), SCPI)


def _with_questions(answers: Answers, operator: Operator) -> Answers:
    """The answers, where the questions for volts and amps are those of the standard if not named.

    A person was offered what the supply answered; who typed nothing means the standard's.
    """
    usual = {f"ask_{name}": text for name, text in QUESTIONS_OF_SCPI.items()}
    return {**answers, **{key: answers[key] or text for key, text in usual.items()}}


def _scpi_endings(link: Link, clock: Clock, answers: Answers, patience_s: float) -> Found | None:
    """How questions and answers end; None where not all answers are those of SCPI."""
    link.open(after(clock, CONNECT_S))
    try:
        try:
            found = find_endings(
                link, clock, lambda end: ScpiQuestion(WHO, end), is_identity, patience_s
            )
        except NotCommissioned:
            return None
        if found.answer.ends_with == "none" or found.answer.ignored:
            return None
        for name, unit in UNITS.items():
            question = ScpiQuestion(answers[f"ask_{name}"], found.question_ends_with)
            asking = AskingLink(link, wires([question]))
            answer = ask_once(asking, clock, question, patience_s)
            answer = answer or ask_once(asking, clock, question, patience_s)
            if answer is None or answer.ends_with == "none" or answer.ignored:
                return None
            try:
                read_number(answer.text, unit)
            except NotUnderstood:
                return None
        return found
    finally:
        link.close()


def _shipped() -> dict[str, Value]:
    """The tables of the description that is shipped, to be corrected by what is found."""
    text = (resources.files("drivers") / "descriptions" / SHIPPED).read_text(encoding="utf-8")
    tables = cast(dict[str, Value], tomllib.loads(text))
    return {
        key: value
        for key, value in tables.items()
        if key not in ("format", "kind", "title", "source", "ratings", "serial", "talk")
    }


def _rest_ms(set_up: DriverSetUp, tables: dict[str, Value], talk: dict[str, Plain]) -> int:
    """The shortest rest between answer and question with which it can be opened and read."""
    for rest_ms in RESTS_MS:
        try:
            with _opened(set_up, {**tables, "talk": {**talk, "rest_ms": rest_ms}}) as driver:
                driver.read()
        except (AskAgain, Reopen):
            continue
        return rest_ms
    return 0


@contextmanager
def _opened(set_up: DriverSetUp, tables: dict[str, Value]) -> Iterator[ScpiDriver]:
    document: Document = {
        "format": 1,
        "kind": "scpi",
        "title": "draft",
        "source": "draft",
        **tables,
    }
    with draft(toml_text(document)) as path:
        driver = open_scpi(replace(set_up, description=path))
    if not isinstance(driver, ScpiDriver):
        raise TypeError("the driver for SCPI is another one")
    try:
        driver.open()
        yield driver
    finally:
        driver.close()


def _demand_fit(reading: Reading, panel: Panel) -> None:
    for name, value in (("volts", reading.volts), ("amps", reading.amps)):
        if value is None or not panel[name].fits(value):
            says = "no value" if value is None else f"{value:g}"
            raise NotCommissioned(
                f"the supply says {says} for {name} where its panel shows {panel[name].words}: is "
                "the question right by the manual, and was the panel steady?"
            )
