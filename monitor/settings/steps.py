"""The tables `[steps.NAME]` of bench.toml: the steps of a job as the shop defines them."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

from pydantic import Field, field_validator

from drivers.base.table import Name, Table
from monitor.model.step import STRIP, USUAL_STEPS, JobStep, Window
from monitor.settings.circuit import VoltsWindowSettings

Volts = Annotated[float, Field(ge=0, le=60, strict=True)]
Density = Annotated[float, Field(ge=0, le=200, strict=True)]
Minutes = Annotated[float, Field(ge=0, le=6000, strict=True)]
Celsius = Annotated[float, Field(ge=0, le=100, strict=True)]
A_LIST = Field(default=None, strict=False)
"""TOML has lists and no tuples."""


class StepSettings(Table):
    """A table `[steps.NAME]`; a window is `[lowest, highest]`, and 0 leaves the low side open.

    Parameters
    ----------
    volts
        `[lowest, highest]` at the supply. The step strip takes `[volts_window]` if it has none.
    amps_per_dm2
        `[lowest, highest]` current density on the work.
    minutes
        `[lowest, highest]` time with current flowing.
    celsius
        `[lowest, highest]` temperature of the bath.
    """

    volts: tuple[Volts, Volts] | None = A_LIST
    amps_per_dm2: tuple[Density, Density] | None = A_LIST
    minutes: tuple[Minutes, Minutes] | None = A_LIST
    celsius: tuple[Celsius, Celsius] | None = A_LIST

    @field_validator("*")
    @classmethod
    def _goes_upwards(cls, window: Window | None) -> Window | None:
        if window is not None and window[0] >= window[1]:
            raise ValueError("give the lowest first, then the highest, as in [6.0, 12.0]")
        return window


def job_steps(
    steps: Mapping[Name, StepSettings], window: VoltsWindowSettings
) -> tuple[JobStep, ...]:
    """The steps in the shop's own order; the usual ones where it defines none."""
    strip_volts = (window.lowest_volts, window.highest_volts)
    is_default = not window.model_fields_set
    if not steps:
        return tuple(
            replace(step, volts=strip_volts, has_default_volts=is_default)
            if step.name == STRIP
            else step
            for step in USUAL_STEPS
        )
    return tuple(
        JobStep(
            name,
            strip_volts if step.volts is None and name == STRIP else step.volts,
            step.amps_per_dm2,
            step.minutes,
            step.celsius,
            has_default_volts=is_default and step.volts is None and name == STRIP,
        )
        for name, step in steps.items()
    )
