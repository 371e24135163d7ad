"""What was said of one scene, held against what its row asks."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from benchmarks.hazards.played import Played
from benchmarks.hazards.row import Must, MustNot, Row, at_least
from benchmarks.hazards.said import Said, said_of
from monitor.export.event_lines import Line


@dataclass(slots=True)
class Outcome:
    """How one draw of one row went.

    Parameters
    ----------
    faults
        What was missing or wrong, in words; none for a draw that was told right.
    delay_s
        Seconds from the event to the first thing that had to be said; None where it never was.
    false_before
        Alarms and prompts raised before the event.
    """

    faults: list[str] = field(default_factory=list)
    delay_s: float | None = None
    false_before: list[Said] = field(default_factory=list)
    said: list[Said] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def is_right(self) -> bool:
        """Whether all was said, and nothing that must not be."""
        return not self.faults


def judge(row: Row, played: Played, lines: Iterable[Line]) -> Outcome:
    """Whether a scene was told right."""
    outcome = Outcome(said=said_of(lines))
    outcome.seconds = played.seconds
    for must in row.must:
        fault, delay_s = _missing(must, played, outcome.said)
        if fault:
            outcome.faults.append(fault)
        elif outcome.delay_s is None:
            outcome.delay_s = delay_s
    for must_not in row.must_not:
        outcome.faults += _forbidden(must_not, played, outcome.said)
    if row.check is not None:
        outcome.faults += row.check(played, outcome.said)
    event_s = played.marks.get("event")
    if event_s is not None and row.quiet_before:
        outcome.false_before = [
            message
            for message in outcome.said
            if message.t_s < event_s - 0.5 and message.is_false_when_quiet
        ]
        outcome.faults += [
            f"before the event: {message.line.strip()}" for message in outcome.false_before
        ]
    return outcome


def _missing(must: Must, played: Played, messages: Sequence[Said]) -> tuple[str, float | None]:
    """What is wrong with what had to be said ("" for nothing), and how late it came."""
    mark_s = played.marks[must.after]
    end_s = mark_s + must.within_s + must.within_samples * played.draw.poll_s + 1e-6
    if must.kind == "gone":
        return _standing(must, end_s, messages), None
    if must.kind == "state" and _stood(must, mark_s, messages):
        return "", 0.0
    wrong = ""
    for message in messages:
        if must.kind and message.kind != must.kind:
            continue
        if must.names and message.name not in must.names:
            continue
        since_s = message.t_s - mark_s
        if since_s < must.not_before_s:
            continue
        pattern = must.says
        says = not pattern or re.search(
            pattern, f"{message.message} {message.action}", re.IGNORECASE
        )
        if not must.names and not says:
            continue
        if message.t_s > end_s:
            wrong = wrong or f"late by {message.t_s - end_s:.1f} s: {message.line.strip()}"
        elif message.priority and not at_least(message.priority, must.priority):
            wrong = f"priority {message.priority}, not {must.priority}: {message.name}"
        elif must.action and not message.action.casefold().startswith(must.action.casefold()):
            wrong = f"action begins {message.action[:40]!r}, not {must.action!r}: {message.name}"
        elif not says:
            wrong = f"does not say {pattern!r}: {message.line.strip()}"
        else:
            return "", since_s
    names = " or ".join(must.names) or must.says
    return wrong or f"not said: {must.kind} {names}", None


def _stood(must: Must, t_s: float, messages: Sequence[Said]) -> bool:
    """Whether a state was there already; only its changes are said."""
    before = [message for message in messages if message.kind == "state" and message.t_s <= t_s]
    if not before or before[-1].name not in must.names:
        return False
    return not must.says or re.search(must.says, before[-1].message, re.IGNORECASE) is not None


def _standing(must: Must, end_s: float, messages: Sequence[Said]) -> str:
    """That an alarm still stands which should be gone by then; "" where it does not."""
    changes = [
        message for message in messages if message.name in must.names and message.t_s <= end_s
    ]
    if changes and changes[-1].kind == "alarm":
        return f"still stands: {changes[-1].line.strip()}"
    return ""


def _forbidden(must_not: MustNot, played: Played, messages: Sequence[Said]) -> list[str]:
    begin_s = played.marks[must_not.after] if must_not.after else -1.0
    end_s = played.marks[must_not.until] if must_not.until else float("inf")
    hits = [
        message
        for message in messages
        if begin_s + must_not.delay_s <= message.t_s < end_s and _is_forbidden(must_not, message)
    ]
    return [f"must not be said: {message.line.strip()}" for message in hits[must_not.at_most :]]


def _is_forbidden(must_not: MustNot, message: Said) -> bool:
    if message.kind in ("returned", "suppressed") or (
        not must_not.names and message.kind not in ("alarm", "prompt", "state", "explanation")
    ):
        return False
    if must_not.names and (message.kind == "explanation" or message.name not in must_not.names):
        return False
    if message.priority and not at_least(message.priority, must_not.priority):
        return False
    text = f"{message.message} {message.action}"
    return not must_not.says or re.search(must_not.says, text, re.IGNORECASE) is not None
