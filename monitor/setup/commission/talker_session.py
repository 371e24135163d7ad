"""Commissions a supply that speaks unasked: how often it speaks, and how its lines are read.

Numbered rules, each with its test:

1. Nothing is sent.
2. The first line after a moment that counts may have begun before it, and is thrown away.
3. How often it speaks is the middle one of the times between blocks of lines of the same shapes;
   what a starting board greets with is of other shapes.
4. One block must hold both volts and amps, in one form; mostly it is one line.
5. Where questions are named, lines that come again and again unasked mean that it speaks by itself.
"""

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.commissioned import Seen
from drivers.link.link import Link
from monitor.setup.commission.choice import chosen
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.found_form import STATES_TOLD, only_choice, state_table
from monitor.setup.commission.listening import Heard, Listening, block_of, every_s
from monitor.setup.commission.made import Made
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.panel import Panel, panel_text
from monitor.setup.commission.questionnaire import LINES, Answers
from monitor.setup.commission.toml_text import Plain, Value

PERIODS = 3
SAMPLES = 3
LISTENS_PATIENCES = 50.0
"""Forty seconds by the usual patience, for one that speaks every ten."""
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
    heard = _at_pace(listening, link.place, within_s)
    count = block_of(heard)
    period_s = max(float(f"{every_s(heard, count):.3g}"), LEAST_EVERY_S)
    operator.tell(f"it speaks by itself, every {period_s:g} s")
    lines: list[str] = []
    shown: list[Panel] = []
    seen: list[Seen] = []
    for panel in operator.settings(("volts", "amps")):
        listening.begin_anew()
        blocks = _blocks(listening, link.place, within_s, count)
        for text in blocks:
            lines.append(text)
            shown.append(panel)
        text = blocks[-1]
        seen.append(Seen("unasked", text.encode("latin-1").hex(" "), panel_text(panel)))
        operator.tell(f"it says {inert(text)!r}")
    pattern = chosen("its lines", lines, shown, operator, may_tell_state=True)
    talk: dict[str, Plain] = {"speaks_every_s": period_s}
    if pattern.decimal_sign == ",":
        talk["decimal_sign"] = ","
    table = pattern.table(answers["source"])
    if count > 1:
        table = {"lines": count, **table}
    tables: dict[str, Value] = {"talk": talk, "answer": [table]}
    if pattern.tells_state:
        tables["status"] = state_table(answers["source"])
        operator.tell(STATES_TOLD)
    return Made(tables, only_choice([pattern]), tuple(seen), LINES)


def _at_pace(listening: Listening, place: str, within_s: float) -> list[Heard]:
    """Lines until they come again and again, `PERIODS` times."""
    listening.begin_anew()
    heard: list[Heard] = []
    left_s = within_s
    while True:
        more = listening.lines(left_s, enough=1)
        if not more:
            begun = listening.begun()
            came = f"{len(begun)} bytes without an end came" if begun else "no bytes at all came"
            if heard:
                came = f"only {inert(heard[-1].text, 40)!r} came"
            raise NotCommissioned(
                f"{place}: no question was named, and {came} within {within_s:g} s: check that the "
                "supply is on, cable and baud rate; one that must be asked needs --ask-volts and "
                "--ask-amps, by its manual"
            )
        heard += more
        count = block_of(heard[1:])
        if count and len(heard) > 1 + PERIODS * count:
            return heard[1:]


def _blocks(listening: Listening, place: str, within_s: float, count: int) -> list[str]:
    """Some whole blocks of lines, each joined by LF."""
    # One more block than is wanted, since the first line may be cut; then to a block's first line.
    heard = listening.lines(within_s, enough=(SAMPLES + 2) * count)
    if len(heard) < 3 * count:
        raise NotCommissioned(f"{place}: it has stopped speaking: check it, and its cable")
    texts = [line.text for line in heard[1:]]
    if count == 1:
        return texts[-SAMPLES:]
    starts = [n for n in range(len(heard) - count) if n]
    start = max(starts[:count], key=lambda n: heard[n].ended_ns - heard[n - 1].ended_ns)
    whole = range(start, len(heard) - count + 1, count)
    return ["\n".join(line.text for line in heard[n : n + count]) for n in whole]
