"""The one form of a supply's answers: by the panel or, where several fit, by the operator."""

from collections.abc import Sequence

from monitor.setup.commission.found_form import Pattern
from monitor.setup.commission.line_pattern import find_pattern, find_patterns
from monitor.setup.commission.operator import Operator
from monitor.setup.commission.panel import Panel


def chosen(
    what: str,
    answers: Sequence[str],
    shown: Sequence[Panel],
    operator: Operator,
    may_tell_state: bool = False,
) -> Pattern:
    """The form of these answers.

    Parameters
    ----------
    what
        Such as "the answer to V?", for the operator.

    Raises
    ------
    Ambiguous, NotCommissioned
    """
    found = find_patterns(answers, shown, may_tell_state)
    if len(found) > 1:
        options = [
            ", ".join(f"{name}: {mark}" for name, mark in pattern.marks.items())
            for pattern in found
        ]
        number = operator.choose(f"Several numbers in {what} fit the panel:", options)
        if number is not None:
            return found[number]
    return find_pattern(answers, shown, may_tell_state)
