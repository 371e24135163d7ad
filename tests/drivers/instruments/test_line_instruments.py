"""Supplies that speak lines of text, and talkers: no value is ever wrong."""

from pathlib import Path

import pytest

from tests.drivers.instruments.instrument import Instrument
from tests.drivers.instruments.never_wrong import must_never_be_wrong, those_of


@pytest.mark.parametrize("instrument", those_of("lines", "talker"))
def test_no_value_is_ever_wrong(instrument: Instrument, tmp_path: Path) -> None:
    must_never_be_wrong(instrument, tmp_path)
