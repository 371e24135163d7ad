"""Everything that is said to the operator about a run, composed in one pure place."""

from monitor.text.causes import RULES, caution, charge_line, rise_lines, what_to_do
from monitor.text.standing import (
    Situation,
    Standing,
    next_to_acknowledge,
    stale_after_s,
    standing,
    trip_sentence,
)

__all__ = [
    "RULES",
    "Situation",
    "Standing",
    "caution",
    "charge_line",
    "next_to_acknowledge",
    "rise_lines",
    "stale_after_s",
    "standing",
    "trip_sentence",
    "what_to_do",
]
