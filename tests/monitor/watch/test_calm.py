"""While nothing is to be judged the watchers look less often; what is told stays the same."""

import pytest

from monitor.model.run import RunFacts
from monitor.watch import vigil as module
from monitor.watch.vigil import WATCHED_EVERY_S, Vigil
from tests.monitor.alarms.test_quiet_samples import LIMIT, POLL_S, odd_run

FACTS = RunFacts("bench-1", "", limit_amps=LIMIT, poll_s=POLL_S)


def told(seed: int) -> list[tuple[str, str, float]]:
    """Changes of the alarms, and prompts, with their times."""
    vigil, found = Vigil(FACTS), []
    for row in odd_run(seed):
        verdict = vigil.update(row)
        found += [(event.alarm, event.change.value, event.t_s) for event in verdict.events]
        found += [(one.prompt, "asked", one.t_s) for one in verdict.prompts]
    return found


@pytest.mark.parametrize("seed", range(3))
def test_the_same_is_told_as_by_watchers_that_see_every_sample(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    thinned = told(seed)
    monkeypatch.setattr(module, "WATCHED_EVERY_S", 0.0)
    full = told(seed)
    assert sorted(one[:2] for one in thinned) == sorted(one[:2] for one in full)
    for one, other in zip(sorted(thinned), sorted(full), strict=True):
        assert abs(one[2] - other[2]) <= WATCHED_EVERY_S + POLL_S
