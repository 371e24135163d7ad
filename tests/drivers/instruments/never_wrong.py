"""What must hold for every instrument, in the short form of `make bench-instruments`.

Nothing here is written with our own simulators.
"""

from pathlib import Path

import pytest
from _pytest.mark.structures import ParameterSet

from tests.drivers.instruments.audit import is_question
from tests.drivers.instruments.catalogue import all_instruments
from tests.drivers.instruments.instrument import Instrument, wired
from tests.drivers.instruments.trial import commissioned, recorded

TIMEOUT_S = 0.1
POLL_S = 0.05
EACH_TIME = 3
"""Instruments of a kind that `make test` tries; each takes some ten seconds."""


def those_of(*kinds: str) -> list[ParameterSet]:
    """The instruments whose names begin so; all but a few of each kind are for `make trials`."""
    drawn, left = [], dict.fromkeys(kinds, EACH_TIME)
    for each in all_instruments():
        kind = each.name.partition(",")[0]
        if kind not in kinds:
            continue
        is_trial = each.is_trial or not left[kind]
        left[kind] -= not is_trial
        drawn.append(
            pytest.param(each, marks=[pytest.mark.trial] if is_trial else [], id=each.name)
        )
    return drawn


def must_never_be_wrong(instrument: Instrument, folder: Path) -> None:
    """Commission it by the prompts, record it clean and with faults, and look at all that came."""
    with wired(instrument, TIMEOUT_S) as bench:
        made = commissioned(bench, folder, finds=False)
        assert made.file is not None, made.said
        clean = recorded(bench, made, 0.5, POLL_S, TIMEOUT_S, has_faults=False)
        spoilt = recorded(bench, made, 2.5, POLL_S, TIMEOUT_S, has_faults=True)
    assert clean.wrong == []
    assert clean.good > 0, clean.words
    assert spoilt.wrong == [], bench.mischief.drawn
    asked = [data for data in bench.end.received if not is_question(data, instrument.questions)]
    assert asked == []
