"""A supply that speaks SCPI at an address and an operator in, how it is asked out.

The driver itself finds out what the supply answers: it is opened on a draft of the description.
"""

import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import cast

from drivers.base.clock import Clock
from drivers.commissioned import Seen
from drivers.driver import DriverSetUp
from drivers.errors import BadDescription, QuestionRefused
from drivers.link.link import Link, after
from drivers.reading import Reading
from drivers.scpi.scpi import ScpiDriver, open_scpi
from drivers.scpi.scpi_question import ScpiQuestion
from monitor.base.errors import WrongUse
from monitor.setup.commission.answers import Operator
from monitor.setup.commission.endings import Found, find_endings
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.made import Made, time_to_answer
from monitor.setup.commission.panel import read_shown
from monitor.setup.commission.toml_text import Document, Plain, Value, toml_text

CONNECT_S = 3.0
SETTINGS = 2
READINGS = 5
"""To begin with, for the pace alone."""
SHIPPED = "scpi-dc-supply.toml"
UNITS = {"volts": "V", "amps": "A"}


def commission_scpi(
    link: Link, set_up: DriverSetUp, clock: Clock, operator: Operator, patience_s: float
) -> Made:
    """Find out how a supply's questions end, which it answers, and that it says what it shows.

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
    found = _endings(link, clock, patience_s)
    if found.answer.ends_with == "none":
        raise NotCommissioned(
            f"it answers {found.answer.text!r} without an end of line, which SCPI asks for: "
            "describe it as a plain-line supply, with an address that begins with lines:"
        )
    ends_with = found.question_ends_with
    operator.tell(f"{found.answer.text!r} answers; questions end with {ends_with}")
    tables = _shipped()
    talk: dict[str, Plain] = {"question_ends_with": ends_with, "quiet_ms": 30}
    if found.answer.took_s > set_up.timeout_s / 3:
        talk["answer_within_s"] = round(3 * found.answer.took_s, 1)
    tables["talk"] = talk
    for name, unit in UNITS.items():
        text = operator.answer(f"ask_{name}")
        if text:
            source = operator.answer("source")
            tables[name] = {"ask": _asked(text), "unit": unit, "source": source}
    seen = [Seen("*IDN?", found.answer.raw.hex(" "), "")]
    with _opened(set_up, tables) as driver:
        manner = driver.manner
        for _ in range(READINGS):
            driver.read()
        for count in range(1, SETTINGS + 1):
            panel = operator.set_panel(count)
            reading = driver.read()
            _demand_fit("volts", reading, panel.volts)
            _demand_fit("amps", reading, panel.amps)
            told = f"{reading.volts:g} V, {reading.amps:g} A, {reading.mode.word}"
            operator.tell(f"it says {told}")
            seen.append(_seen(told, panel.words))
    operator.tell(driver.times.words())
    talk |= time_to_answer(driver.times)
    if manner is None:
        raise NotCommissioned(f"{set_up.address.text}: the supply answers none of its questions")
    is_joined = len(manner.values) == 1
    tables["talk"] = {**talk, "together": "always" if is_joined else "never"}
    known = [register.question.text for register in manner.registers]
    status = cast(list[Document], tables.pop("status", []))
    if kept := [one for one in status if one["ask"] in known]:
        tables["status"] = kept
    opening = [question.text for question in manner.on_open]
    if not opening:
        tables.pop("on_open", None)
    choice = (
        f"volts and amps {'in one message' if is_joined else 'each in a message of its own'}; "
        f"states from {', '.join(known) or 'nothing'}"
    )
    return Made(tables, choice, tuple(seen))


def _endings(link: Link, clock: Clock, patience_s: float) -> Found:
    link.open(after(clock, CONNECT_S))
    try:
        return find_endings(
            link,
            clock,
            lambda end: ScpiQuestion("*IDN?", end),
            lambda text: text.isprintable() and "," in text,
            patience_s,
        )
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


def _asked(text: str) -> str:
    try:
        return ScpiQuestion(text).text
    except QuestionRefused as error:
        raise WrongUse(str(error)) from error


@contextmanager
def _opened(set_up: DriverSetUp, tables: dict[str, Value]) -> Iterator[ScpiDriver]:
    draft: Document = {"format": 1, "kind": "scpi", "title": "draft", "source": "draft", **tables}
    with TemporaryDirectory(prefix="bathvigil-") as folder:
        file = Path(folder) / "draft.toml"
        file.write_text(toml_text(draft), encoding="utf-8")
        try:
            driver = open_scpi(replace(set_up, description=str(file)))
        except BadDescription as error:
            raise NotCommissioned(f"the description would not be usable: {error}") from error
    if not isinstance(driver, ScpiDriver):
        raise TypeError("the driver for SCPI is another one")
    try:
        driver.open()
        yield driver
    finally:
        driver.close()


def _demand_fit(name: str, reading: Reading, panel: str) -> None:
    value = reading.volts if name == "volts" else reading.amps
    shown = read_shown(panel)
    if value is None or not shown.fits(value):
        said = "no value" if value is None else f"{value:g}"
        raise NotCommissioned(
            f"the supply says {said} for {name} where its panel shows {shown.words}: is the "
            "question right by the manual, and was the panel steady?"
        )


def _seen(told: str, shown: str) -> Seen:
    return Seen("volts and amps", told.encode("ascii", "replace").hex(" "), shown)
