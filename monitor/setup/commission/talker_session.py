"""Commissions a supply that speaks unasked: how often it speaks, and how its lines are read.

Numbered rules, each with its test:

1. Nothing is sent.
2. The first line after a moment that counts may have begun before it, and is thrown away.
3. How often it speaks is the middle one of the times between `PERIODS` lines.
4. One line must hold both volts and amps, in one form.
5. Where questions are named, two lines that come unasked mean that it speaks by itself.
"""

from collections.abc import Iterator
from itertools import pairwise
from statistics import median

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.commissioned import Seen
from drivers.link.link import Link
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.line_pattern import (
    STATES_TOLD,
    find_pattern,
    only_choice,
    state_table,
)
from monitor.setup.commission.listening import Listening
from monitor.setup.commission.made import Made
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.panel import Panel, panel_text
from monitor.setup.commission.questionnaire import Answers
from monitor.setup.commission.toml_text import Plain, Value

PERIODS = 3
LISTENS_PATIENCES = 12.5
"""Ten seconds by the usual patience: a supply that speaks less often is written down by hand."""
LEAST_EVERY_S = 0.02


def commission_talker(
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
    listening = Listening(link, clock)
    within_s = LISTENS_PATIENCES * patience_s
    every_s = _every_s(listening, clock, link.place, within_s)
    operator.tell(f"it speaks by itself, every {every_s:g} s")
    lines: list[str] = []
    shown: list[Panel] = []
    seen: list[Seen] = []
    for panel in operator.settings(("volts", "amps")):
        listening.begin_anew()
        *_, text = _lines(listening, link.place, within_s, 2)
        lines.append(text)
        shown.append(panel)
        seen.append(Seen("unasked", text.encode("latin-1").hex(" "), panel_text(panel)))
        operator.tell(f"it says {inert(text)!r}")
    pattern = find_pattern(lines, shown, may_tell_state=True)
    talk: dict[str, Plain] = {"speaks_every_s": every_s}
    if pattern.decimal_sign == ",":
        talk["decimal_sign"] = ","
    tables: dict[str, Value] = {"talk": talk, "answer": [pattern.table(answers["source"])]}
    if pattern.tells_state:
        tables["status"] = state_table(answers["source"])
        operator.tell(STATES_TOLD)
    return Made(tables, only_choice([pattern]), tuple(seen))


def _every_s(listening: Listening, clock: Clock, place: str, within_s: float) -> float:
    listening.begin_anew()
    lines = _lines(listening, place, within_s, PERIODS + 1)
    ended_ns = [clock.monotonic_ns() for _ in lines]
    apart_ns = [later - sooner for sooner, later in pairwise(ended_ns)]
    return max(float(f"{median(apart_ns) / 1e9:.2g}"), LEAST_EVERY_S)


def _lines(listening: Listening, place: str, within_s: float, count: int) -> Iterator[str]:
    for _ in range(count):
        text = listening.next_line(within_s)
        if text is None:
            begun = listening.begun()
            came = f"{len(begun)} bytes without an end came" if begun else "nothing came"
            raise NotCommissioned(
                f"{place}: no question was named, and {came} within {within_s:g} s: check that the "
                "supply is on, cable and baud rate; one that must be asked needs --ask-volts and "
                "--ask-amps, by its manual"
            )
        yield text
