"""What the amps go through and what they may do there: values that the settings give."""

from dataclasses import dataclass, replace
from typing import Self

from monitor.model.card import JobCard
from monitor.model.faraday import amp_hours_to_strip
from monitor.model.leads import Leads
from monitor.model.step import STRIP, TANK_VOLTS, USUAL_STEPS, JobStep


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
    """Where the volts of a step belong; by default those of a strip in a tank, see `TANK_VOLTS`."""

    lowest_volts: float = TANK_VOLTS[0]
    highest_volts: float = TANK_VOLTS[1]


@dataclass(frozen=True, slots=True)
class Fittings:
    """Everything between one supply's terminals that is watched beside the supply's own limit.

    Parameters
    ----------
    window
        None where the step in force has none.
    most_celsius
        The bath must not get warmer; None where nobody says.
    steps
        The steps of a job, in the shop's own order.
    step
        The one in force; once a card was taken its windows are in the other values.
    cells
        In series between the terminals. A stack of them has volts of its own, and only the windows
        that the settings give.
    """

    conductors: tuple[Conductor, ...] = ()
    leads: Leads | None = None
    job: Job = Job()
    window: VoltsWindow | None = VoltsWindow()
    most_celsius: float | None = None
    steps: tuple[JobStep, ...] = USUAL_STEPS
    step: JobStep = USUAL_STEPS[-1]
    cells: int = 1

    @property
    def heated(self) -> tuple[Conductor, ...]:
        """The conductors whose heat is watched: the leads by their gauge where none is named so.

        >>> [(one.name, one.rated_amps) for one in Fittings(leads=Leads(10, 4.0)).heated]
        [('leads', 40.0)]
        """
        leads = self.leads
        if leads is None or any(
            "lead" in conductor.name.casefold() for conductor in self.conductors
        ):
            return self.conductors
        by_gauge = Conductor("leads", leads.rated_amps, leads.time_constant_s)
        return (*self.conductors, by_gauge)

    def for_card(self, card: JobCard) -> Self:
        """The same with the step in force and the work that a job card names.

        To be called on what the settings say. A card without a step is a strip's; what it leaves
        out stays as it was.

        Examples
        --------
        >>> steps = (JobStep("clean", (4.0, 8.0)), JobStep("strip", (6.0, 12.0)))
        >>> Fittings(steps=steps).for_card(JobCard(step="clean", area_dm2=1.6)).window
        VoltsWindow(lowest_volts=4.0, highest_volts=8.0)
        """
        name = card.step or STRIP
        known = next((step for step in self.steps if step.name == name), None)
        step = JobStep(name) if known is None else known.done_with(card.way)
        area, thick, most = card.area_dm2, card.micrometres, step.amps_per_dm2
        job = Job(
            self.job.area_dm2 if area is None else area,
            self.job.micrometres if thick is None else thick,
            self.job.most_amps_per_dm2 if most is None else most[1],
        )
        window, warmest = self.window, self.most_celsius
        if self.cells > 1 and (known is None or known.has_default_volts):
            # What is usual for one bath says nothing of a stack.
            window = None
        elif known is not None or name != STRIP:
            window = None if step.volts is None else VoltsWindow(*step.volts)
        if step.celsius is not None:
            warmest = min(step.celsius[1], warmest or step.celsius[1])
        return replace(self, job=job, window=window, most_celsius=warmest, step=step)


NO_FITTINGS = Fittings()
"""Where the settings name none: nothing is watched but the strip's volts."""
