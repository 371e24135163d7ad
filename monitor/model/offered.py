"""A run's settings in, what its job card offers out: the shop's own steps and its baths."""

from collections.abc import Mapping

from monitor.model.kept_setting import kept_table, number_of
from monitor.model.step import USUAL_STEPS, JobStep, Window

MOST_STEPS = 50


def steps_offered(settings: str) -> tuple[JobStep, ...]:
    """The steps that were in force when the run began, in the shop's order; else the usual ones.

    Parameters
    ----------
    settings
        `RunFacts.settings`.

    Examples
    --------
    >>> kept = '{"in_force": {"fittings.steps.0.name": "rinse", "fittings.steps.0.volts": null}}'
    >>> steps_offered(kept)
    (JobStep(name='rinse', volts=None, amps_per_dm2=None, minutes=None, celsius=None),)
    >>> [step.name for step in steps_offered("{}")]
    ['clean', 'strip']
    """
    return steps_in(kept_table(settings, "in_force")) or USUAL_STEPS


def steps_in(found: Mapping[str, object]) -> tuple[JobStep, ...]:
    """The steps that stand in a run's limits in force, under flat names."""
    steps = []
    for number in range(MOST_STEPS):
        at = f"fittings.steps.{number}"
        name = found.get(f"{at}.name")
        if not isinstance(name, str):
            break
        steps.append(
            JobStep(
                name,
                _window(found, f"{at}.volts"),
                _window(found, f"{at}.amps_per_dm2"),
                _window(found, f"{at}.minutes"),
                _window(found, f"{at}.celsius"),
            )
        )
    return tuple(steps)


def baths_offered(settings: str) -> tuple[str, ...]:
    """The names of the bench's baths.

    >>> baths_offered('{"bench": {"baths": {"north tank": {"litres": 9.0}}}}')
    ('north tank',)
    """
    baths = kept_table(settings, "bench").get("baths")
    return tuple(baths) if isinstance(baths, dict) else ()


def _window(found: Mapping[str, object], name: str) -> Window | None:
    low, high = number_of(found.get(f"{name}.0")), number_of(found.get(f"{name}.1"))
    return None if low is None or high is None else (low, high)
