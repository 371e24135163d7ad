"""The whole bench under fifty faults drawn from a seed: four rules hold at the end."""

from pathlib import Path

import pytest

from benchmarks.page import table
from tests.monitor.recorder.notices.receivers import receiver
from tests.whole.bath_findings import figures_of, judge
from tests.whole.bath_track import WIRE, track
from tests.whole.bath_trial import hold_trial

SECONDS = 80.0
FAULTS = 58


@pytest.mark.trial
def test_four_rules_hold_whatever_goes_wrong(tmp_path: Path) -> None:
    strikes = track(seed=20_261_125, seconds=SECONDS, count=FAULTS)
    with receiver() as mute:
        for trial in hold_trial(tmp_path, strikes, SECONDS, mute.url):
            found = judge(trial)
    print(table(figures_of(found, SECONDS)))
    assert found.broken == []
    assert found.faults.total() >= 50
    assert set(WIRE) <= set(found.faults)
    assert found.stored > 150
    assert found.alarms["tripped"] >= 1
    # ANSI/ISA-18.2: one alarm for one cause (as secondary texts quote it).
    assert found.alarms.total() <= found.faults.total()
    assert found.alarms_due_s > 3
