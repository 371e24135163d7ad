"""`bathvigil commission`: the description of your own supply, compared with its panel."""

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

import click

from drivers.address import MESSAGE_DRIVERS, Address, parse_address
from drivers.base.inert import inert
from drivers.base.timeout import TimeoutS
from drivers.errors import DriverError
from monitor.base.errors import BathvigilError, WrongUse
from monitor.base.whole_file import whole_file
from monitor.commands.options import examples, range_of, together
from monitor.setup.commission.endings import PATIENCE_S
from monitor.setup.commission.operator import SETTINGS
from monitor.setup.commission.panel import Panel, panel_text, read_shown
from monitor.setup.commission.questionnaire import (
    BY_KEY,
    LINES,
    QUESTIONS,
    REGISTER_FACTS,
    SCPI,
    Answers,
    Need,
    Question,
    ask_all,
)
from monitor.setup.commission.toml_text import toml_text

T = TypeVar("T")

STANDARD_QUESTION = "MEAS:VOLT?"
PANEL_PROMPTS = {
    "volts": "Volts on the panel, all digits",
    "amps": "Amps on the panel, all digits",
    "celsius": "Degrees Celsius on the panel or a thermometer",
}


def _answers(function: Callable[..., int]) -> Callable[..., int]:
    """An option for each question that can be answered beforehand."""
    options = [
        click.option(question.option, key, metavar="TEXT", help=f"{question.text}.")
        for key, question in BY_KEY.items()
    ]
    return together(*options)(function)


@click.command(
    "commission",
    epilog=examples(
        "bathvigil commission 'modbus:/dev/ttyUSB0?unit=1&baud=9600' --to mine.toml",
        "bathvigil commission scpi:/dev/ttyUSB0 --to mine.toml",
        "bathvigil commission 'modbus:/dev/ttyUSB0?unit=1' --to mine.toml --volts-at 40001 "
        "--amps-at 40002 --status-at 40003 --states 'off, CV' --cut-out-by 'bit 5'",
        "bathvigil commission lines:/dev/ttyUSB0 --to mine.toml --ask-volts 'V?' --ask-amps 'I?'",
    ),
)
@click.argument("address")
@click.option(
    "--to",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="The description to write, such as mine.toml.",
)
@click.option(
    "--answers",
    "answers_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="A TOML file with the answers: keys as the options below, [[panel]] with volts and amps.",
)
@click.option(
    "--panel",
    nargs=2,
    multiple=True,
    metavar="V A",
    help="Give twice: what the panel will show at each setting. Press Enter when it does.",
)
@click.option(
    "--panel-celsius",
    multiple=True,
    metavar="C",
    help="With --celsius-at, give twice: the temperature at each setting.",
)
@_answers
@click.option(
    "--timeout-s",
    type=range_of(TimeoutS),
    default=PATIENCE_S,
    show_default=True,
    metavar="S",
    help="Longest wait for one answer of the supply.",
)
@click.option("--replace", "may_replace", is_flag=True, help="Overwrite an existing file.")
def command(
    address: str,
    to: Path,
    answers_file: Path | None,
    panel: tuple[tuple[str, str], ...],
    timeout_s: float,
    may_replace: bool,
    panel_celsius: tuple[str, ...],
    **answers: str | None,
) -> int:
    """Describe the supply at ADDRESS (modbus:, lines: or scpi:), compared with its panel.

    You turn the volts on the supply's own panel twice, and type what it shows. The program only
    asks; it sets nothing. It writes the file only if exactly one way to read the answers fits both
    settings. Let the supply deliver into a load: the bath. For Modbus it measures how soon the
    supply takes the next question. To a supply that sends unasked it only listens: give no
    questions. If it fails, the answers that you typed are kept in a file for --answers.
    """
    parsed = parse_address(address)
    if parsed.kind not in QUESTIONS:
        known = ", ".join(sorted((*QUESTIONS, *MESSAGE_DRIVERS)))
        raise WrongUse(f"{parsed.driver} cannot be commissioned; these can: {known}")
    if to.suffix != ".toml":
        raise WrongUse(f"{to}: a description's name ends in .toml")
    if to.exists() and not may_replace:
        raise WrongUse(f"{to} exists already: name another file, or add --replace")
    given = {key: value for key, value in answers.items() if value is not None}
    shown = _panels(panel, panel_celsius)
    operator = _AtTerminal(to)
    if answers_file is None and operator.is_person and operator.kept.exists():
        operator.tell(f"The answers of the last try are taken from {operator.kept}")
        answers_file = operator.kept
    if answers_file is not None:
        # Late: it loads pydantic, which nobody else here needs.
        from monitor.setup.commission.answers_file import read_answers

        in_file, panels = read_answers(answers_file)
        given, shown = {**in_file, **given}, shown or panels
    operator.given = given
    try:
        if shown:
            operator.prepare(shown, bool(given.get("celsius_at")))
        else:
            offered = _offered(parsed, given, operator, timeout_s)
            if parsed.driver == SCPI and offered.get("ask_volts") == STANDARD_QUESTION:
                given = {**given, **offered}  # it keeps to the standard: there is nothing to ask
            else:
                operator.offered = offered
        type_in = operator.type_in if operator.is_person else None
        answered = ask_all(parsed.kind, given, type_in)
        operator.prepare(shown, bool(answered["celsius_at"]))
        from monitor.setup.commission.commissioning import commission

        while True:
            try:
                commission(parsed, answered, operator, to, timeout_s)
                break
            except (BathvigilError, DriverError) as error:
                key = operator.what_to_change(error, parsed.kind)
                if key is None:
                    raise
                if key:
                    answered[key] = operator.type_in(BY_KEY[key])
    except BaseException:
        operator.keep_typed()
        raise
    operator.kept.unlink(missing_ok=True)
    click.echo(f"{to}")
    operator.tell(
        f'name it in bench.toml: description = "{to.name}"; then bathvigil check --config '
        "bench.toml"
    )
    return 0


def _offered(
    address: Address, given: Mapping[str, str], operator: "_AtTerminal", timeout_s: float
) -> dict[str, str]:
    """What the supply answers, for a person who has not yet said how it is asked."""
    if address.kind not in (LINES, SCPI) or not operator.is_person or "ask_volts" in given:
        return {}
    from monitor.setup.commission.commissioning import questions_answered

    operator.tell("Looking which questions it answers, for half a minute at the most ...")
    return questions_answered(address, timeout_s, operator)


def _panels(panel: Sequence[tuple[str, str]], celsius: Sequence[str]) -> list[dict[str, str]]:
    """What the options say that the panel will show at each setting."""
    if celsius and len(celsius) != len(panel):
        raise WrongUse("--panel-celsius goes with --panel V A: give each of them twice")
    warm = [{"celsius": text} for text in celsius] or [{} for _ in panel]
    return [
        {"volts": volts, "amps": amps, **more}
        for (volts, amps), more in zip(panel, warm, strict=True)
    ]


class _AtTerminal:
    """Types the answers that are missing, and turns the panel; an `Operator`.

    Parameters
    ----------
    to
        The description that is to be written; answers are kept beside it.
    """

    def __init__(self, to: Path) -> None:
        self.is_person = sys.stdin.isatty()
        self.kept = to.with_suffix(".answers.toml")
        self.given: Answers = {}
        """By options and file, to be kept beside those that were typed."""
        self.offered: Answers = {}
        """What Enter means at a prompt, since the supply answers it so."""
        self._typed: dict[str, str] = {}
        self._prepared: list[Panel] = []

    def prepare(self, panels: Sequence[Mapping[str, str]], has_celsius: bool) -> None:
        """Take what the panel will show, before the port is opened.

        Raises
        ------
        WrongUse
            Where a number is missing or cannot be read.
        """
        if not panels and not self.is_person:
            raise WrongUse("what does the panel show? Give --panel V A twice")
        if 0 < len(panels) < SETTINGS:
            raise WrongUse("two settings are needed: give --panel V A twice")
        if has_celsius and any(not panel.get("celsius") for panel in panels):
            raise WrongUse("which temperature is shown? Give --panel-celsius C twice")
        names = PANEL_PROMPTS if has_celsius else ("volts", "amps")
        self._prepared = [{name: read_shown(panel[name]) for name in names} for panel in panels]

    def type_in(self, question: Question) -> str:
        """Put a question until it has a valid answer, and keep that."""
        may, offer = question.need is not Need.MUST, self.offered.get(question.key, "")
        words = question.text
        if offer:
            words += f" (Enter for {offer}, which it answers)"
        elif may:
            words += " (Enter for none)"
        self._typed[question.key] = answer = self._prompt(
            words,
            lambda typed: question.check(typed) if typed else offer,
            is_optional=may or bool(offer),
        )
        # After each answer: whatever ends this program then loses none.
        self._write_down()
        return answer

    def choose(self, words: str, options: Sequence[str]) -> int | None:
        """Which of several things it is, by its number, where a person is there."""
        if not self.is_person:
            return None
        listed = [f"  {number}: {option}" for number, option in enumerate(options, 1)]
        self.tell("\n".join([words, *listed]))

        def check(typed: str) -> int | None:
            if not typed:
                return None
            if typed not in map(str, range(1, len(options) + 1)):
                raise WrongUse(f"{typed!r}: type a number from 1 to {len(options)}")
            return int(typed) - 1

        return self._prompt("Which one is measured? (its number; Enter to stop)", check, True)

    def link_is_back(self, why: str) -> bool:
        """Wait for a cable that came off."""
        if not self.is_person:
            return False
        self.tell(why)
        check = _one_of_two("y", "")
        return self._prompt("Type y once it is connected again (Enter to stop)", check, True) == "y"

    def what_to_change(self, error: Exception, kind: str) -> str | None:
        """After a failure: the answer to change, "" to try again as it was, None to stop."""
        if not self.is_person or self._prepared:
            return None
        self.tell(str(error))
        keys = [question.key for question in QUESTIONS[kind]]

        def check(typed: str) -> str | None:
            if typed not in ("", "again", *keys):
                raise WrongUse(f"{typed!r}: type again, or one of {', '.join(keys)}")
            return {"": None, "again": ""}.get(typed, typed)

        return self._prompt(
            "Type again to try again, or the answer to change, such as ask_volts (Enter to stop)",
            check,
            True,
        )

    def settings(self, names: Sequence[str]) -> Iterator[Panel]:
        """Wait until the panel shows one setting after the other."""
        for number in range(1, SETTINGS + 1):
            if self._prepared:
                panel = self._prepared[number - 1]
                self.tell(
                    f"Setting {number} of {SETTINGS}: turn the volts on the front panel until it "
                    f"shows {panel_text(panel)}, then press Enter"
                )
                if not sys.stdin.readline():
                    raise WrongUse("nobody pressed Enter: give one line on stdin for each setting")
                yield panel
            else:
                start = "Let the supply deliver" if number == 1 else "Turn the volts up or down"
                self.tell(
                    f"Setting {number} of {SETTINGS}. {start}, and wait until the panel is steady."
                )
                yield {name: self._prompt(PANEL_PROMPTS[name], read_shown) for name in names}

    def set_state(self, words: str, number: int, of: int) -> None:
        """Wait until the supply is in the next state."""
        self.tell(
            f"State {number} of {of}: set the supply to {words} on its own panel, with no part "
            "in the bath that could be damaged, then press Enter"
        )
        if not sys.stdin.readline():
            raise WrongUse("nobody pressed Enter: give one line on stdin for each state, too")

    def narrow(self, why: str) -> Answers | None:
        """Ask for one more fact of the manual, where a person is there."""
        if not self.is_person:
            return None
        self.tell(why)
        fact = self._prompt(
            "One more fact from the manual, such as 'type uint16' (Enter to stop)",
            _register_fact,
            is_optional=True,
        )
        self._typed |= fact
        return fact or None

    def tell(self, text: str) -> None:
        """On stderr: stdout is for what was made."""
        click.echo("\n".join(inert(line, 400) for line in text.splitlines()), err=True)

    def keep_typed(self) -> None:
        """Say after a failure where the answers are, so that they need no second typing."""
        if any(self._typed.values()) and self._write_down():
            self.tell(f"Your answers are kept. To use them again, add: --answers {self.kept}")

    def _write_down(self) -> bool:
        try:
            with whole_file(self.kept) as file:
                file.write(toml_text({**self.given, **self._typed}))
        except BathvigilError as error:
            self.tell(f"your answers could not be kept: {error}")
            return False
        return True

    def _prompt(self, text: str, check: Callable[[str], T], is_optional: bool = False) -> T:
        while True:
            default = "" if is_optional else None
            typed: str = click.prompt(text, default=default, show_default=False, err=True)
            try:
                return check(typed.strip())
            except WrongUse as wrong:
                self.tell(str(wrong))


def _one_of_two(*valid: str) -> Callable[[str], str]:
    def check(typed: str) -> str:
        if typed.lower() not in valid:
            raise WrongUse(f"{typed!r}: type y, or press Enter")
        return typed.lower()

    return check


def _register_fact(text: str) -> dict[str, str]:
    if not text:
        return {}
    typed, _, value = text.partition(" ")
    key = typed.lower().replace("-", "_")
    if key not in REGISTER_FACTS or not value.strip():
        raise WrongUse(f"{text!r}: type one of {', '.join(REGISTER_FACTS)} and its value")
    return {key: BY_KEY[key].check(value.strip())}
