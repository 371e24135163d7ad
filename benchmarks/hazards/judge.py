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
            said for said in outcome.said if said.t_s < event_s - 0.5 and said.is_false_when_quiet
        ]
        outcome.faults += [
            f"before the event: {said.line.strip()}" for said in outcome.false_before
        ]
    return outcome


def _missing(must: Must, played: Played, said: Sequence[Said]) -> tuple[str, float | None]:
    """What is wrong with what had to be said ("" for nothing), and how late it came."""
    mark_s = played.marks[must.after]
    end_s = mark_s + must.within_s + must.within_samples * played.draw.poll_s + 1e-6
    if must.kind == "gone":
        return _standing(must, end_s, said), None
    if must.kind == "state" and _stood(must, mark_s, said):
        return "", 0.0
    wrong = ""
    for one in said:
        if must.kind and one.kind != must.kind:
            continue
        if must.names and one.name not in must.names:
            continue
        since_s = one.t_s - mark_s
        if since_s < must.not_before_s:
            continue
        pattern = must.says
        says = not pattern or re.search(pattern, f"{one.message} {one.action}", re.IGNORECASE)
        if not must.names and not says:
            continue
        if one.t_s > end_s:
            wrong = wrong or f"late by {one.t_s - end_s:.1f} s: {one.line.strip()}"
        elif one.priority and not at_least(one.priority, must.priority):
            wrong = f"priority {one.priority}, not {must.priority}: {one.name}"
        elif must.action and not one.action.casefold().startswith(must.action.casefold()):
            wrong = f"action begins {one.action[:40]!r}, not {must.action!r}: {one.name}"
        elif not says:
            wrong = f"does not say {pattern!r}: {one.line.strip()}"
        else:
            return "", since_s
    names = " or ".join(must.names) or must.says
    return wrong or f"not said: {must.kind} {names}", None


def _stood(must: Must, t_s: float, said: Sequence[Said]) -> bool:
    """Whether a state was there already; only its changes are said."""
    before = [one for one in said if one.kind == "state" and one.t_s <= t_s]
    if not before or before[-1].name not in must.names:
        return False
    return not must.says or re.search(must.says, before[-1].message, re.IGNORECASE) is not None


def _standing(must: Must, end_s: float, said: Sequence[Said]) -> str:
    """That an alarm still stands which should be gone by then; "" where it does not."""
    changes = [one for one in said if one.name in must.names and one.t_s <= end_s]
    if changes and changes[-1].kind == "alarm":
        return f"still stands: {changes[-1].line.strip()}"
    return ""


def _forbidden(must_not: MustNot, played: Played, said: Sequence[Said]) -> list[str]:
    begin_s = played.marks[must_not.after] if must_not.after else -1.0
    end_s = played.marks[must_not.until] if must_not.until else float("inf")
    hits = [
        one
        for one in said
        if begin_s + must_not.delay_s <= one.t_s < end_s and _is_forbidden(must_not, one)
    ]
    return [f"must not be said: {one.line.strip()}" for one in hits[must_not.at_most :]]


def _is_forbidden(must_not: MustNot, one: Said) -> bool:
    if one.kind in ("returned", "suppressed") or (
        not must_not.names and one.kind not in ("alarm", "prompt", "state", "explanation")
    ):
        return False
    if must_not.names and (one.kind == "explanation" or one.name not in must_not.names):
        return False
    if one.priority and not at_least(one.priority, must_not.priority):
        return False
    text = f"{one.message} {one.action}"
    return not must_not.says or re.search(must_not.says, text, re.IGNORECASE) is not None
