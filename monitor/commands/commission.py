"""`bathvigil commission`: the description of your own supply, compared with its panel."""

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

import click

from drivers.address import parse_address
from drivers.base.inert import inert
from drivers.base.timeout import TimeoutS
from monitor.base.errors import BathvigilError, WrongUse
from monitor.base.whole_file import whole_file
from monitor.commands.options import examples, range_of, together
from monitor.setup.commission.endings import PATIENCE_S
from monitor.setup.commission.operator import SETTINGS
from monitor.setup.commission.panel import Panel, panel_text, read_shown
from monitor.setup.commission.questionnaire import (
    BY_KEY,
    QUESTIONS,
    REGISTER_FACTS,
    Answers,
    Need,
    Question,
    ask_all,
)
from monitor.setup.commission.toml_text import toml_text

T = TypeVar("T")

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
    if parsed.driver not in QUESTIONS:
        raise WrongUse(
            f"{parsed.driver} cannot be commissioned; these can: {', '.join(sorted(QUESTIONS))}"
        )
    if to.suffix != ".toml":
        raise WrongUse(f"{to}: a description's name ends in .toml")
    if to.exists() and not may_replace:
        raise WrongUse(f"{to} exists already: name another file, or add --replace")
    given = {key: value for key, value in answers.items() if value is not None}
    shown = _panels(panel, panel_celsius)
    if answers_file is not None:
        # Late: it loads pydantic, which nobody else here needs.
        from monitor.setup.commission.answers_file import read_answers

        in_file, panels = read_answers(answers_file)
        given, shown = {**in_file, **given}, shown or panels
    operator = _AtTerminal(given)
    try:
        answered = ask_all(parsed.driver, given, operator.type_in if operator.is_person else None)
        operator.prepare(shown, bool(answered["celsius_at"]))
        from monitor.setup.commission.commissioning import commission

        commission(parsed, answered, operator, to, timeout_s)
    except BaseException:
        operator.keep_typed(to)
        raise
    click.echo(f"{to}")
    operator.tell(
        f'name it in bench.toml: description = "{to.name}"; then bathvigil check --config '
        "bench.toml"
    )
    return 0


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
    given
        The answers by options and file, to be kept beside those that were typed.
    """

    def __init__(self, given: Answers) -> None:
        self.is_person = sys.stdin.isatty()
        self._given = given
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
        may = question.need is Need.MAY
        self._typed[question.key] = answer = self._prompt(
            f"{question.text} (Enter for none)" if may else question.text,
            lambda typed: question.check(typed) if typed else "",
            is_optional=may,
        )
        return answer

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

    def keep_typed(self, to: Path) -> None:
        """Write the answers down after a failure, so that they need no second typing."""
        if not any(self._typed.values()):
            return
        place = to.with_suffix(".answers.toml")
        try:
            with whole_file(place) as file:
                file.write(toml_text({**self._given, **self._typed}))
        except BathvigilError as error:
            self.tell(f"your answers could not be kept: {error}")
        else:
            self.tell(f"Your answers are kept. To use them again, add: --answers {place}")

    def _prompt(self, text: str, check: Callable[[str], T], is_optional: bool = False) -> T:
        while True:
            default = "" if is_optional else None
            typed: str = click.prompt(text, default=default, show_default=False, err=True)
            try:
                return check(typed.strip())
            except WrongUse as wrong:
                self.tell(str(wrong))


def _register_fact(text: str) -> dict[str, str]:
    if not text:
        return {}
    key, _, value = text.partition(" ")
    if key.lower() not in REGISTER_FACTS or not value.strip():
        raise WrongUse(f"{text!r}: type one of {', '.join(REGISTER_FACTS)} and its value")
    return {key.lower(): BY_KEY[key.lower()].check(value.strip())}
