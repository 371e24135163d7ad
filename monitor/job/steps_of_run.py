"""A run's stored settings in, the steps that its bench had out."""

import json

from monitor.job.step import USUAL_STEPS, JobStep, Window


def steps_of_run(settings: str) -> tuple[JobStep, ...]:
    """The steps in the shop's own order; the usual ones where the settings name none.

    Parameters
    ----------
    settings
        `RunFacts.settings`, with the limits in force as flat names.

    Examples
    --------
    >>> told = '{"in_force": {"fittings.steps.0.name": "dip", "fittings.steps.0.volts.0": 4.0,'
    >>> told += ' "fittings.steps.0.volts.1": 8.0}}'
    >>> steps_of_run(told)[0].line, [step.name for step in steps_of_run("{}")]
    ('dip: 4 to 8 V', ['clean', 'strip'])
    """
    found = json.loads(settings).get("in_force")
    if not isinstance(found, dict):
        return USUAL_STEPS
    steps: list[JobStep] = []
    while isinstance(name := found.get(f"fittings.steps.{len(steps)}.name"), str):
        above = f"fittings.steps.{len(steps)}"
        windows = (
            _window(found, f"{above}.{what}")
            for what in ("volts", "amps_per_dm2", "minutes", "celsius")
        )
        steps.append(JobStep(name, *windows))
    return tuple(steps) or USUAL_STEPS


def _window(found: dict[str, object], name: str) -> Window | None:
    low, high = found.get(f"{name}.0"), found.get(f"{name}.1")
    if not isinstance(low, int | float) or not isinstance(high, int | float):
        return None
    return float(low), float(high)
