"""One measured figure beside its goal, and its row of a page."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured thing, what it is held to, and whether it holds."""

    what: str
    measured: str
    goal: str
    holds: bool | None

    @property
    def row(self) -> str:
        """A row of the table."""
        kept = {True: "yes", False: "NO", None: "not measured"}[self.holds]
        return f"| {self.what} | {self.measured} | {self.goal} | {kept} |"
