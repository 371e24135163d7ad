"""What the program said, as far as rows ask for it."""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.export.event_lines import Line

RAISES = ("raised", "repeated")
START_PROMPTS = ("heat-not-watched", "meter-too-coarse", "time-limit")
"""Said at the start of a run as a fact, not a question about the strip."""


@dataclass(frozen=True, slots=True)
class Said:
    """One line, as far as rows ask for it.

    Parameters
    ----------
    kind
        "alarm" (raised or repeated), "returned", "suppressed", "prompt", "state" or "explanation".
    """

    t_s: float
    kind: str
    name: str
    priority: str
    message: str
    action: str

    @property
    def line(self) -> str:
        """For people."""
        rank = f" {self.priority}" if self.priority else ""
        action = f" > {self.action}" if self.action else ""
        return f"{self.t_s:9.2f}  {self.kind}{rank} {self.name}: {self.message}{action}"

    @property
    def is_false_when_quiet(self) -> bool:
        """Whether it is wrong where nothing happens: an alarm, or a question to the operator."""
        if self.kind == "prompt":
            return self.name not in START_PROMPTS
        return self.kind == "alarm"


def said_of(lines: Iterable[Line]) -> list[Said]:
    """The lines that say something."""
    messages = []
    for line in lines:
        kind = str(line["kind"])
        if kind == "alarm":
            change = str(line["change"])
            kind = "alarm" if change in RAISES else change
            name, priority = str(line["alarm"]), str(line["priority"])
        elif kind in ("prompt", "state"):
            name, priority = str(line[kind]), ""
        elif kind == "explanation":
            name, priority = str(line["cause"]), ""
        else:
            continue
        message = str(line.get("message", ""))
        if line.get("order"):
            message += f" [{line['order']}]"
        t_s = float(line["t_s"] or 0.0)
        messages.append(Said(t_s, kind, name, priority, message, str(line.get("action") or "")))
    return messages
