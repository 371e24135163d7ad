"""An operator who answers the prompts of `commission` from the instrument's manual and panel.

He stands in the place of `sys.stdin`, as a terminal, and reads what the program said on stderr
since his last answer.
"""

import io

from monitor.setup.commission.questionnaire import QUESTIONS
from tests.drivers.instruments.instrument import Bench

ALWAYS = {"operator": "Jo", "title": "an instrument", "source": "manual, p. 3"}

FACTS = ("function", "type", "order", "offset")


class Operator(io.TextIOBase):
    """Reads `said`, and types."""

    def __init__(self, bench: Bench, said: io.StringIO) -> None:
        super().__init__()
        self._bench = bench
        self._said = said
        self._read = 0
        self._facts = [
            f"{key.replace('_', '-')} {value}"
            for key, value in bench.instrument.manual.items()
            if key.rpartition("_")[2] in FACTS
        ]
        self.typed: list[tuple[str, str]] = []

    def isatty(self) -> bool:
        return True

    def readline(self, size: int = -1, /) -> str:  # type: ignore[override]  # that of bytes, in the stubs
        new = self._said.getvalue()[self._read :]
        self._read = len(self._said.getvalue())
        answer = self._answer(new)
        self.typed.append((new, answer))
        if len(self.typed) > 60:
            raise AssertionError(f"the prompts never end: {self.typed[-3:]}")
        return f"{answer}\n"

    def _answer(self, text: str) -> str:
        bench, truth = self._bench, self._bench.truth
        last = text.strip().splitlines()[-1] if text.strip() else ""
        # One setting may end and the next begin in what was said: the newest counts.
        places = {text.rfind(f"Setting {number}"): number for number in (1, 2)}
        if (place := max(places)) >= 0:
            truth.setting = places[place] - 1
        if "State " in text:
            truth.state = text.rpartition("set the supply to ")[2].split(" on its own")[0]
            return ""
        for quantity, words in (("volts", "Volts on the panel"), ("amps", "Amps on the panel")):
            if last.startswith(words):
                return truth.shown(quantity)
        for question in QUESTIONS[bench.instrument.kind]:
            if last.startswith(question.text):
                known = {**ALWAYS, "rated_volts": "15", "rated_amps": "15"}
                return {**known, **bench.instrument.manual}.get(question.key, "")
        if last.startswith("One more fact"):
            return self._facts.pop(0) if self._facts else ""
        for prompt, answer in bench.instrument.manual.items():
            if prompt and last.startswith(prompt):
                return answer
        return ""
