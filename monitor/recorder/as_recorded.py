"""A stored run's facts in, the vigil that it was watched by out; for whoever watches it again."""

from collections.abc import Mapping
from dataclasses import replace

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.model.fittings import Conductor, Fittings, Job, VoltsWindow
from monitor.model.kept_setting import kept_table, number_of
from monitor.model.leads import Leads
from monitor.model.offered import steps_in
from monitor.model.run import RunFacts
from monitor.model.step import STRIP, USUAL_STEPS, JobStep
from monitor.watch.vigil import Vigil

NO_DATA_AFTER_S = 5.0

Found = Mapping[str, object]


def vigil_as_recorded(facts: RunFacts) -> Vigil:
    """With the limits that were in force when the run began; the usual ones where it kept none."""
    found = kept_table(facts.settings, "in_force")
    after_s, per_kelvin = _number(found, "no_data_after_s"), _number(found, "per_kelvin")
    return Vigil(
        facts,
        no_data_after_s=NO_DATA_AFTER_S if after_s is None else after_s,
        per_kelvin=CAUSTIC_PER_KELVIN if per_kelvin is None else per_kelvin,
        fittings=fittings_in_force(found),
    )


def fittings_in_force(found: Found) -> Fittings:
    """What stands under "fittings" in a run's limits in force; see `in_force`.

    Examples
    --------
    >>> found = {"fittings.conductors.0.name": "lead", "fittings.conductors.0.rated_amps": 20.0,
    ...          "fittings.conductors.0.time_constant_s": 300.0, "fittings.window": None}
    >>> fittings = fittings_in_force(found)
    >>> fittings.conductors[0].rated_amps, fittings.window
    (20.0, None)
    """
    conductors: list[Conductor] = []
    while isinstance(name := found.get(f"fittings.conductors.{len(conductors)}.name"), str):
        at = f"fittings.conductors.{len(conductors)}"
        rated, constant = (
            _number(found, f"{at}.rated_amps"),
            _number(found, f"{at}.time_constant_s"),
        )
        if rated is None or constant is None:
            break
        conductors.append(Conductor(name, rated, constant, _number(found, f"{at}.k") or 1.0))
    awg, metres = _number(found, "fittings.leads.awg"), _number(found, "fittings.leads.metres")
    low = _number(found, "fittings.window.lowest_volts")
    high = _number(found, "fittings.window.highest_volts")
    had_no_window = "fittings.window" in found
    step = found.get("fittings.step.name")
    steps = steps_in(found)
    if not steps and low is not None and high is not None:
        steps = (JobStep(STRIP, (low, high)),)
    fittings = Fittings(
        steps=steps or USUAL_STEPS,
        conductors=tuple(conductors),
        leads=None if awg is None or metres is None else Leads(awg, metres),
        job=Job(
            _number(found, "fittings.job.area_dm2"),
            _number(found, "fittings.job.micrometres"),
            _number(found, "fittings.job.most_amps_per_dm2"),
        ),
        most_celsius=_number(found, "fittings.most_celsius"),
    )
    if low is not None and high is not None:
        fittings = replace(fittings, window=VoltsWindow(low, high))
    elif had_no_window:
        fittings = replace(fittings, window=None)
    return replace(fittings, step=JobStep(step)) if isinstance(step, str) else fittings


def _number(found: Found, name: str) -> float | None:
    return number_of(found.get(name))
