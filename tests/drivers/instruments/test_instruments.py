"""Every instrument: commissioned by the prompts, recorded with and without faults, never wrong.

The short form of `make bench-instruments`; nothing here is written with our own simulators.
"""

from pathlib import Path

import pytest

from tests.drivers.instruments.audit import is_question
from tests.drivers.instruments.catalogue import all_instruments
from tests.drivers.instruments.instrument import Instrument, wired
from tests.drivers.instruments.trial import commissioned, recorded

TIMEOUT_S = 0.1
POLL_S = 0.05


DRAWN = [
    pytest.param(instrument, marks=[pytest.mark.trial] if instrument.is_trial else [])
    for instrument in all_instruments()
]


@pytest.mark.parametrize("instrument", DRAWN, ids=str)
def test_no_value_of_an_instrument_is_ever_wrong(instrument: Instrument, tmp_path: Path) -> None:
    with wired(instrument, TIMEOUT_S) as bench:
        made = commissioned(bench, tmp_path, finds=False)
        assert made.file is not None, made.said
        clean = recorded(bench, made, 0.5, POLL_S, TIMEOUT_S, has_faults=False)
        spoilt = recorded(bench, made, 2.5, POLL_S, TIMEOUT_S, has_faults=True)
    assert clean.wrong == []
    assert clean.good > 0, clean.words
    assert spoilt.wrong == [], bench.mischief.drawn
    asked = [data for data in bench.end.received if not is_question(data, instrument.questions)]
    assert asked == []


@pytest.mark.trial
@pytest.mark.parametrize("instrument", all_instruments(), ids=str)
def test_find_proposes_the_next_command_for_it(instrument: Instrument, tmp_path: Path) -> None:
    with wired(instrument, TIMEOUT_S) as bench:
        made = commissioned(bench, tmp_path)
        asked = [data for data in bench.end.received if not is_question(data, instrument.questions)]
    assert made.is_found, made.said
    assert made.file is not None, made.said
    assert asked == []


def test_a_supply_that_says_off_while_it_delivers_is_not_believed(tmp_path: Path) -> None:
    (instrument,) = (each for each in all_instruments() if "says off" in each.name)
    with wired(instrument, TIMEOUT_S) as bench:
        made = commissioned(bench, tmp_path, finds=False)
    assert made.file is not None, made.said
    assert "OUTP? says output-off while the panel shows current: it is left out" in made.said
    assert "OUTP?" not in made.file.read_text(encoding="utf-8").partition("[commissioned]")[0]
