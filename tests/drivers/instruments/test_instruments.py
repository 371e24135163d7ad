"""What `find` and `commission` say of instruments that others wrote."""

from pathlib import Path

import pytest

from tests.drivers.instruments.audit import is_question
from tests.drivers.instruments.catalogue import all_instruments
from tests.drivers.instruments.instrument import Instrument, wired
from tests.drivers.instruments.never_wrong import TIMEOUT_S
from tests.drivers.instruments.trial import commissioned

SILENT = "modbus, far apart, mute where others refuse"
"""It answers for no register but its own, which `find` cannot know."""


@pytest.mark.trial
def test_a_silent_one_is_commissioned_by_its_manual(tmp_path: Path) -> None:
    (instrument,) = (each for each in all_instruments() if each.name == SILENT)
    with wired(instrument, TIMEOUT_S) as bench:
        made = commissioned(bench, tmp_path, finds=False)
    assert made.file is not None, made.said


@pytest.mark.trial
@pytest.mark.parametrize(
    "instrument", [each for each in all_instruments() if each.name != SILENT], ids=str
)
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


def test_every_instrument_is_tried_by_one_of_the_files_beside_this() -> None:
    kinds = {instrument.name.partition(",")[0] for instrument in all_instruments()}
    assert kinds == {"scpi", "lines", "talker", "modbus", "VXI-11"}
