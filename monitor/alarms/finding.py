"""What a condition says of one alarm at one row, on its way to the board."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """Whether one alarm's condition holds (None: cannot be known), and the sentence for it.

    `at_once` passes over the alarm's delays, where a stronger finding has settled the matter.
    """

    alarm: str
    holds: bool | None
    message: str
    at_once: bool = False
