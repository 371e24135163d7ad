"""The vigil that a stored run was watched by, for whoever watches it again."""

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN
from monitor.model.kept_settings import kept_fittings, kept_number
from monitor.model.run import RunFacts
from monitor.watch.vigil import Vigil

NO_DATA_AFTER_S = 5.0


def vigil_as_recorded(facts: RunFacts) -> Vigil:
    """With the limits that were in force when the run began; the usual ones where it kept none."""
    after_s = kept_number(facts.settings, "in_force", "no_data_after_s")
    per_kelvin = kept_number(facts.settings, "in_force", "per_kelvin")
    return Vigil(
        facts,
        no_data_after_s=NO_DATA_AFTER_S if after_s is None else after_s,
        per_kelvin=CAUSTIC_PER_KELVIN if per_kelvin is None else per_kelvin,
        fittings=kept_fittings(facts.settings),
    )
