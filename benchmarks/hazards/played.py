"""A scene that was played: its readings, its marks, and what the program is told beforehand."""

from dataclasses import dataclass, field

from benchmarks.hazards.draw import Draw


@dataclass(frozen=True, slots=True)
class Reading:
    """What one poll brought; volts and amps are None where it went unanswered."""

    t_s: float
    volts: float | None
    amps: float | None


@dataclass(frozen=True, slots=True)
class Hand:
    """What the operator does with the program: "confirm" answers a prompt; "" is his own eye."""

    t_s: float
    do: str
    prompt: str = ""


@dataclass(slots=True)
class Settings:
    """What the settings and the job card say, in the program's own terms.

    Parameters
    ----------
    at_limit
        "trips" or "holds".
    way
        "tank" or "swab"; "" for a card without it.
    area_dm2, density
        Of the part, and the step's window of A/dm2.
    minutes
        The step's window; None for the default.
    usual_amps
        Low, middle and high of the amps of like jobs; None without history.
    gauge
        Wire gauge of the leads and their metres; None for leads that are not stated.
    rated_amps
        Of the lead; None where nobody says.
    cells
        In series.
    """

    limit_amps: float
    at_limit: str = "trips"
    way: str = ""
    area_dm2: float | None = None
    density: tuple[float, float] | None = None
    minutes: tuple[float, float] | None = None
    usual_amps: tuple[float, float, float] | None = None
    gauge: tuple[float, float] | None = None
    rated_amps: float | None = None
    cells: int = 1


@dataclass(slots=True)
class Played:
    """One scene, played."""

    draw: Draw
    settings: Settings
    readings: list[Reading] = field(default_factory=list)
    marks: dict[str, float] = field(default_factory=dict)
    hands: list[Hand] = field(default_factory=list)

    @property
    def seconds(self) -> float:
        """How long it was watched."""
        return self.readings[-1].t_s if self.readings else 0.0
