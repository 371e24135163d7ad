"""A Modbus unit on an open link and an operator in, how its volts and amps are read out."""

from dataclasses import replace
from typing import cast

from drivers.commissioned import Seen
from drivers.modbus.register_question import MANUAL_BASES, RegisterQuestion
from drivers.modbus.register_value import ORDERS, TYPES, WIDTHS, ByteOrder, RegisterType
from monitor.base.errors import WrongUse
from monitor.setup.commission.answers import Operator, PanelShown
from monitor.setup.commission.asking_registers import AskingRegisters, Block
from monitor.setup.commission.candidates import (
    FUNCTIONS,
    OFFSETS,
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
from monitor.setup.commission.pace_trial import try_pace
from monitor.setup.commission.panel import read_shown
from monitor.setup.commission.register_map import ManualNumber, read_around, read_manual_number
from monitor.setup.commission.status_session import read_state_asked, show_states
from monitor.setup.commission.temperature import CELSIUS, find_temperature
from monitor.setup.commission.toml_text import Document, Value

SETTINGS = 2


def commission_modbus(
    asking: AskingRegisters, unit: int, operator: Operator, ratings: dict[str, float]
) -> Made:
    """Find out how one unit is read; it is only asked, and the operator turns the knobs.

    Raises
    ------
    NotCommissioned
        `Ambiguous` where the operator cannot tell apart what fits.
    DriverError
        Where the link fails.
    """
    names = QUANTITIES if not operator.answer("celsius_at") else (*QUANTITIES, CELSIUS)
    numbers = {name: read_manual_number(operator.answer(f"{name}_at")) for name in names}
    for name, number in numbers.items():
        operator.tell(f"{name}: {number.words}; the registers before and behind are tried, too")
    facts = _facts(operator)
    identity_at = operator.answer("identity_at")
    named = read_manual_number(identity_at) if identity_at else None
    state = read_state_asked(operator)
    seen: list[Seen] = []
    addresses = {name: number.address for name, number in numbers.items()}
    settings = _settings(asking, unit, operator, addresses, facts, seen)
    pair = _narrowed(settings, addresses, ratings, facts, operator)
    tables: dict[str, Value] = {
        "volts": _table(pair.volts, numbers["volts"], operator),
        "amps": _table(pair.amps, numbers["amps"], operator),
    }
    choice = _choice(pair, numbers)
    if CELSIUS in numbers:
        warm = find_temperature(settings, addresses[CELSIUS], pair.volts)
        tables[CELSIUS] = _table(warm, numbers[CELSIUS], operator)
        choice += f"; temperature by {warm.words}"
    if state is not None:
        tables["status"], shown = show_states(
            asking, unit, operator, state, pair.volts, numbers["volts"]
        )
        seen += shown
    if named is not None:
        block = _identity(asking, unit, pair, named)
        seen.append(Seen(f"unit {unit}, {block.question.words}", block.raw.hex(" "), ""))
        tables["identity"] = {
            "function": block.question.function,
            "address": block.question.address,
            "manual": MANUAL_BASES[block.question.function][0] + block.question.address,
            "registers": block.question.count,
            "source": f"{operator.answer('source')}: register {named.text}",
        }
    volts = pair.volts
    asked = RegisterQuestion(unit, volts.function, volts.address, WIDTHS[volts.kind])
    pace = try_pace(asking, asked)
    operator.tell(pace.words)
    if talk := pace.talk:
        tables = {"talk": talk, **tables}
    return Made(tables=tables, choice=choice, seen=tuple(seen))


def _settings(
    asking: AskingRegisters,
    unit: int,
    operator: Operator,
    addresses: dict[str, int],
    facts: Facts,
    seen: list[Seen],
) -> list[Setting]:
    """What is read and shown at both settings of the supply."""
    settings: list[Setting] = []
    functions = FUNCTIONS if facts.function is None else (facts.function,)
    for count in range(1, SETTINGS + 1):
        panel = operator.set_panel(count)
        typed = {"volts": panel.volts, "amps": panel.amps, CELSIUS: panel.celsius}
        shown = {name: read_shown(typed[name]) for name in addresses}
        blocks = read_around(asking, unit, list(addresses.values()), functions)
        settings.append(Setting(shown, tuple(_plain(block) for block in blocks)))
        seen += [_seen(block, panel) for block in blocks]
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
    ratings: dict[str, float],
    facts: Facts,
    operator: Operator,
) -> Pair:
    while True:
        try:
            return search(settings, addresses, ratings, facts)
        except Ambiguous as error:
            said = operator.narrow(str(error))
            if said is None:
                raise
            facts = _with_fact(facts, *said)


def _facts(operator: Operator) -> Facts:
    facts = Facts()
    for key in ("function", "type", "order", "offset"):
        text = operator.answer(key).strip()
        if text:
            facts = _with_fact(facts, key, text)
    return facts


def _with_fact(facts: Facts, key: str, text: str) -> Facts:
    match key:
        case "function":
            return replace(facts, function=int(_one_of(key, text, [str(f) for f in FUNCTIONS])))
        case "type":
            return replace(facts, kind=cast(RegisterType, _one_of(key, text.lower(), TYPES)))
        case "order":
            return replace(facts, order=cast(ByteOrder, _one_of(key, text.upper(), ORDERS)))
        case "offset":
            return replace(facts, offset=int(_one_of(key, text, [str(one) for one in OFFSETS])))
    raise WrongUse(f"{key!r} is nothing that tells registers apart: function, type, order, offset")


def _one_of(key: str, text: str, valid: list[str] | tuple[str, ...]) -> str:
    if text not in valid:
        raise WrongUse(f"{key} {text!r}: one of {', '.join(valid)}")
    return text


def _plain(block: Block) -> tuple[int, int, tuple[int, ...]]:
    return block.question.function, block.question.address, block.values or ()


def _seen(block: Block, panel: PanelShown) -> Seen:
    asked = f"unit {block.question.unit}, {block.question.words}"
    return Seen(asked, block.raw.hex(" "), panel.words)


def _table(chosen: Candidate, number: ManualNumber, operator: Operator) -> Document:
    return {
        "function": chosen.function,
        "address": chosen.address,
        "manual": chosen.manual,
        "type": chosen.kind,
        "order": chosen.order,
        "scale": chosen.scale,
        "source": f"{operator.answer('source')}: register {number.text}",
    }


def _choice(pair: Pair, numbers: dict[str, ManualNumber]) -> str:
    typed = "; ".join(f"{name}: {number.words}" for name, number in numbers.items())
    return f"the only way of reading that fits: {pair.words}. Typed: {typed}"
