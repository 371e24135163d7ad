"""The tables of bench.toml about what the amps go through, and what the estimators take of them."""

from typing import Self

from pydantic import Field, model_validator

from drivers.base.table import Name, Table
from monitor.model.fittings import Conductor, Fittings, Job, VoltsWindow
from monitor.model.leads import Leads
from monitor.model.ranges import Amps, GaugeAwg, LoopMetres
from monitor.model.step import TANK_VOLTS, JobStep


class ConductorSettings(Table):
    """A table `[supplies.NAME.conductors.NAME]`: a sleeve, lead, anode or part that can overheat.

    Parameters
    ----------
    rated_amps
        The current it can carry all day.
    time_constant_s
        Time in which it reaches 63 % of its final temperature rise.
    k_factor
        Factor k of IEC 60255-149: it may carry k times its rated amps.
    """

    rated_amps: Amps
    time_constant_s: float = Field(gt=0, le=36_000)
    k_factor: float = Field(default=1.0, ge=0.5, le=2)


class LeadSettings(Table):
    """A table `[supplies.NAME.leads]`: the copper from the supply to the bath and back.

    Parameters
    ----------
    gauge_awg
        American wire gauge of the copper (ASTM B258).
    loop_metres
        Length of copper, out and back.
    """

    gauge_awg: GaugeAwg
    loop_metres: LoopMetres


class JobSettings(Table):
    """A table `[supplies.NAME.job]`: the work, as far as the current goes.

    Parameters
    ----------
    area_dm2
        Area of the work.
    micrometres
        Thickness of the chromium, for Faraday's charge, which is a guide.
    most_amps_per_dm2
        Highest current density that the work can take.
    """

    area_dm2: float | None = Field(default=None, gt=0, le=1000)
    micrometres: float | None = Field(default=None, gt=0, le=200)
    most_amps_per_dm2: float | None = Field(default=None, gt=0, le=200)


class VoltsWindowSettings(Table):
    """The table `[volts_window]`: the volts of a strip, for tank and swab alike.

    Without it a strip in a tank has 2.5 to 12 V, and one with a swab 6 to 12 V.

    Parameters
    ----------
    lowest_volts
        Below this, while current flows, outside-voltage-window is raised.
    highest_volts
        Above this volts-high is raised.
    """

    lowest_volts: float = Field(default=TANK_VOLTS[0], ge=0, le=60)
    highest_volts: float = Field(default=TANK_VOLTS[1], gt=0, le=60)

    @model_validator(mode="after")
    def _is_a_window(self) -> Self:
        if self.lowest_volts >= self.highest_volts:
            raise ValueError("lowest_volts must be below highest_volts")
        return self


def fittings(
    cells: int,
    conductors: dict[Name, ConductorSettings],
    leads: LeadSettings | None,
    job: JobSettings | None,
    window: VoltsWindowSettings,
    most_celsius: float | None,
    steps: tuple[JobStep, ...],
) -> Fittings:
    """The settings of one supply before any job card."""
    return Fittings(
        conductors=tuple(
            Conductor(name, conductor.rated_amps, conductor.time_constant_s, conductor.k_factor)
            for name, conductor in conductors.items()
        ),
        leads=None if leads is None else Leads(leads.gauge_awg, leads.loop_metres),
        job=Job() if job is None else Job(job.area_dm2, job.micrometres, job.most_amps_per_dm2),
        window=VoltsWindow(window.lowest_volts, window.highest_volts),
        most_celsius=most_celsius,
        cells=cells,
        steps=steps,
    )
