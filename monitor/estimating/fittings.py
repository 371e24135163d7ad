"""What the amps go through and what they may do there: values that the settings give."""

from dataclasses import dataclass

from monitor.estimating.faraday import amp_hours_to_strip
from monitor.estimating.leads import Leads


@dataclass(frozen=True, slots=True)
class Conductor:
    """One conductor that must not overheat: a sleeve, lead, anode or part.

    Parameters
    ----------
    rated_amps, time_constant_s, k
        See `ThermalImage`.
    """

    name: str
    rated_amps: float
    time_constant_s: float
    k: float = 1.0


@dataclass(frozen=True, slots=True)
class Job:
    """The work that hangs in the bath, as far as the current goes; None for what is not known.

    Parameters
    ----------
    area_dm2
        Its area.
    micrometres
        Thickness of the chromium on it.
    most_amps_per_dm2
        The highest current density that it stands.
    """

    area_dm2: float | None = None
    micrometres: float | None = None
    most_amps_per_dm2: float | None = None

    @property
    def least_amp_hours(self) -> float | None:
        """What the chromium takes at 100 % current efficiency; None where the job does not say."""
        if self.area_dm2 is None or self.micrometres is None:
            return None
        return amp_hours_to_strip(self.area_dm2, self.micrometres)


@dataclass(frozen=True, slots=True)
class VoltsWindow:
    """Where the volts of a strip belong: 6 to 12 V, anodic (common practice, no source)."""

    lowest_volts: float = 6.0
    highest_volts: float = 12.0


@dataclass(frozen=True, slots=True)
class Fittings:
    """Everything between one supply's terminals that is watched beside the supply's own limit.

    Parameters
    ----------
    most_celsius
        The bath must not get warmer; None where nobody says.
    """

    conductors: tuple[Conductor, ...] = ()
    leads: Leads | None = None
    job: Job = Job()
    window: VoltsWindow = VoltsWindow()
    most_celsius: float | None = None
