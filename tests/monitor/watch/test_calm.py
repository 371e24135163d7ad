"""While nothing is to be judged the watchers look less often; what is told stays the same."""

from collections.abc import Iterable, Iterator

import pytest

from monitor.model.alarm import AlarmName
from monitor.model.run import RunFacts
from monitor.model.sample import Sample
from monitor.watch import vigil as module
from monitor.watch.vigil import WATCHED_EVERY_S, Vigil
from tests.monitor.alarms.test_quiet_samples import LIMIT, POLL_S, odd_run
from tests.monitor.analysis.traces import sample

FACTS = RunFacts("bench-1", "", limit_amps=LIMIT, poll_s=POLL_S)


def told(rows: Iterable[Sample]) -> list[tuple[str, str, float]]:
    """Changes of the alarms, and prompts, with their times."""
    vigil, found = Vigil(FACTS), []
    for row in rows:
        verdict = vigil.update(row)
        found += [(event.alarm, event.change.value, event.t_s) for event in verdict.events]
        found += [(one.prompt, "asked", one.t_s) for one in verdict.prompts]
    return found


@pytest.mark.parametrize("seed", range(3))
def test_the_same_is_told_as_by_watchers_that_see_every_sample(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    thinned = told(odd_run(seed))
    monkeypatch.setattr(module, "WATCHED_EVERY_S", 0.0)
    full = told(odd_run(seed))
    assert sorted(one[:2] for one in thinned) == sorted(one[:2] for one in full)
    for one, other in zip(sorted(thinned), sorted(full), strict=True):
        assert abs(one[2] - other[2]) <= WATCHED_EVERY_S + POLL_S


def swab_work(seconds: float, lift_s: float = 1.0, every_s: float = 12.0) -> Iterator[Sample]:
    """Current at 9 V that a lifted swab stops every few seconds."""
    for seq in range(int(seconds / POLL_S)):
        t_s = seq * POLL_S
        yield sample(seq, t_s, 9.0, 0.0 if t_s % every_s < lift_s else 0.5 * LIMIT)


def test_no_second_of_current_is_lost_between_the_looks_at_it() -> None:
    """Ten minutes with current, which lifts of a twelfth and a poll each make eleven."""
    times = [t_s for alarm, _, t_s in told(swab_work(720.0)) if alarm is AlarmName.TIME_OVER]
    assert 600.0 < times[0] < 600.0 * 12.0 / 10.5


def test_five_minutes_more_are_told_once() -> None:
    rows = (sample(seq, seq * POLL_S, 9.0, 0.5 * LIMIT) for seq in range(int(1830.0 / POLL_S)))
    changes = [change for alarm, change, _ in told(rows) if alarm is AlarmName.TIME_OVER]
    assert changes == ["raised", "returned", "raised", "returned", "raised"]
