"""Commissions a Modbus unit: how its volts and amps are read, and its temperature and state."""

from typing import cast

from drivers.commissioned import Seen
from drivers.modbus.register_question import MANUAL_BASES, RegisterQuestion
from drivers.modbus.register_value import WIDTHS, ByteOrder, RegisterType
from drivers.modbus.scale_register import ScaleMeaning
from monitor.setup.commission.asking_registers import AskingRegisters, Block
from monitor.setup.commission.candidates import (
    FUNCTIONS,
    QUANTITIES,
    Candidate,
    Facts,
    Pair,
    Setting,
    search,
    table,
)
from monitor.setup.commission.errors import Ambiguous, NotCommissioned
from monitor.setup.commission.made import Made
from monitor.setup.commission.manual_number import (
    ManualNumber,
    read_manual_number,
    read_scale_numbers,
)
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.pace_trial import try_pace
from monitor.setup.commission.panel import panel_text
from monitor.setup.commission.questionnaire import Answers, ratings_of
from monitor.setup.commission.register_map import read_around
from monitor.setup.commission.scaled_search import search_scaled
from monitor.setup.commission.status_session import show_states
from monitor.setup.commission.temperature import CELSIUS, find_temperature
from monitor.setup.commission.toml_text import Document, Value


def commission_modbus(
    asking: AskingRegisters, unit: int, answers: Answers, operator: Operator
) -> Made:
    """Commission one unit; it is only asked, and the operator turns the knobs.

    Raises
    ------
    NotCommissioned
        `Ambiguous` where the operator cannot tell apart what fits.
    DriverError
        Where the link fails.
    """
    names = QUANTITIES if not answers["celsius_at"] else (*QUANTITIES, CELSIUS)
    numbers = {name: read_manual_number(answers[f"{name}_at"]) for name in names}
    for name, number in numbers.items():
        operator.tell(f"{name}: {number.words}; the registers before and behind are tried, too")
    seen: list[Seen] = []
    addresses = {name: number.address for name, number in numbers.items()}
    scales = _scale_places(answers)
    settings = _settings(asking, unit, answers, operator, addresses, scales, seen)
    pair, means = _narrowed(settings, addresses, scales, answers, operator)
    tables: dict[str, Value] = {
        name: {**_table(way, numbers[name], answers), **_scale_table(way, scales.get(name), means)}
        for name, way in (("volts", pair.volts), ("amps", pair.amps))
    }
    choice = _choice(pair, numbers)
    if means is not None:
        choice += f"; their scale by a register that holds {means}"
    if CELSIUS in numbers:
        warm = find_temperature(settings, addresses[CELSIUS], pair.volts)
        tables[CELSIUS] = _table(warm, numbers[CELSIUS], answers)
        choice += f"; temperature by {warm.words}"
    if answers["status_at"]:
        tables["status"], shown = show_states(
            asking, unit, answers, operator, pair, numbers["volts"]
        )
        seen += shown
    if answers["identity_at"]:
        named = read_manual_number(answers["identity_at"])
        block = _identity(asking, unit, pair, named)
        seen.append(Seen(f"unit {unit}, {block.question.words}", block.raw.hex(" "), ""))
        tables["identity"] = {
            "function": block.question.function,
            "address": block.question.address,
            "manual": MANUAL_BASES[block.question.function][0] + block.question.address,
            "registers": block.question.count,
            "source": f"{answers['source']}: register {named.text}",
        }
    volts = pair.volts
    asked = RegisterQuestion(unit, volts.function, volts.address, WIDTHS[volts.kind])
    pace = try_pace(asking, asked)
    operator.tell(pace.words)
    talk = pace.talk
    if not asking.numbers_replies:
        operator.tell(
            "its replies do not carry the numbers of their questions: that is allowed for"
        )
        talk = {**talk, "numbers_replies": False}
    if talk:
        tables = {"talk": talk, **tables}
    return Made(tables=tables, choice=choice, seen=tuple(seen))


def _settings(
    asking: AskingRegisters,
    unit: int,
    answers: Answers,
    operator: Operator,
    addresses: dict[str, int],
    scales: dict[str, int],
    seen: list[Seen],
) -> list[Setting]:
    """What is read and shown at both settings of the supply."""
    settings: list[Setting] = []
    facts = _facts(answers)
    functions = FUNCTIONS if facts.function is None else (facts.function,)
    for panel in operator.settings(tuple(addresses)):
        places = list(dict.fromkeys((*addresses.values(), *scales.values())))
        blocks = read_around(asking, unit, places, functions)
        settings.append(Setting(panel, tuple(_plain(block) for block in blocks)))
        seen += [
            Seen(f"unit {unit}, {block.question.words}", block.raw.hex(" "), panel_text(panel))
            for block in blocks
        ]
        for name in QUANTITIES:
            lines = table(settings, addresses[name], name, facts) or ["nothing comes near"]
            operator.tell("\n  ".join([f"{name}, as the registers may be read:", *lines]))
    return settings


def _identity(asking: AskingRegisters, unit: int, pair: Pair, number: ManualNumber) -> Block:
    """The registers that hold a serial number, counted as those for volts are."""
    address = number.address + pair.volts.offset
    for count in (2, 1):
        question = RegisterQuestion(unit, pair.volts.function, address, count)
        first, second = asking.ask(question), asking.ask(question)
        if first.values is not None and first.values == second.values and any(first.values):
            return first
    raise NotCommissioned(
        f"register {number.text} ({number.words}) holds no serial number: it is refused, all 0, "
        "or changes; leave it out, or correct it by the manual"
    )


def _narrowed(
    settings: list[Setting],
    addresses: dict[str, int],
    scales: dict[str, int],
    answers: Answers,
    operator: Operator,
) -> tuple[Pair, ScaleMeaning | None]:
    """How both are read, and what the registers of their scales mean."""
    while True:
        try:
            ratings, facts = ratings_of(answers), _facts(answers)
            if scales:
                return search_scaled(settings, addresses, scales, ratings, facts)
            return search(settings, addresses, ratings, facts), None
        except Ambiguous as error:
            more = operator.narrow(str(error))
            if more is None:
                raise
            answers = {**answers, **more}


def _facts(answers: Answers) -> Facts:
    return Facts(
        function=int(answers["function"]) if answers["function"] else None,
        kind=cast(RegisterType | None, answers["type"] or None),
        order=cast(ByteOrder | None, answers["order"] or None),
        functions=_functions_by_number(answers),
        kinds=cast(dict[str, RegisterType], _own(answers, "type")),
        orders=cast(dict[str, ByteOrder], _own(answers, "order")),
        offset=int(answers["offset"]) if answers["offset"] else None,
    )


def _own(answers: Answers, fact: str) -> dict[str, str]:
    """What the manual says of volts or amps alone."""
    told = {name: answers[f"{name}_{fact}"] for name in QUANTITIES}
    return {name: text for name, text in told.items() if text}


def _functions_by_number(answers: Answers) -> dict[str, int]:
    """The functions that the numbers tell, such as 30001, where they are not the same."""
    told = {name: read_manual_number(answers[f"{name}_at"]).function for name in QUANTITIES}
    functions = {name: function for name, function in told.items() if function is not None}
    return functions if len(set(functions.values())) == len(QUANTITIES) else {}


def _plain(block: Block) -> tuple[int, int, tuple[int, ...]]:
    return block.question.function, block.question.address, block.values or ()


def _table(chosen: Candidate, number: ManualNumber, answers: Answers) -> Document:
    return {
        "function": chosen.function,
        "address": chosen.address,
        "manual": chosen.manual,
        "type": chosen.kind,
        "order": chosen.order,
        "scale": chosen.scale,
        "source": f"{answers['source']}: register {number.text}",
    }


def _scale_places(answers: Answers) -> dict[str, int]:
    """Where the scale of each quantity stands on the wire, as the manual seems to count."""
    if not answers["scale_at"]:
        return {}
    numbers = read_scale_numbers(answers["scale_at"])
    return {"volts": numbers[0].address, "amps": numbers[-1].address}


def _scale_table(way: Candidate, place: int | None, means: ScaleMeaning | None) -> Document:
    if place is None or means is None:
        return {}
    table = {"function": way.function, "address": place + way.offset, "means": means}
    return {"scale_from": table}


def _choice(pair: Pair, numbers: dict[str, ManualNumber]) -> str:
    typed = "; ".join(f"{name}: {number.words}" for name, number in numbers.items())
    return f"the only way of reading that fits: {pair.words}. Typed: {typed}"
