"""A description tells where it comes from: operator, date, choice and the raw answers."""

from pathlib import Path

import pytest

from drivers.commissioned import Commissioned, Seen
from drivers.errors import BadDescription
from drivers.scpi.scpi_description import load_scpi_description

HEAD = """format = 1
kind = "scpi"
title = "t"
source = "s"
identity = {ask = "*IDN?", source = "s"}
volts = {ask = "MEAS:VOLT?", source = "s"}
amps = {ask = "MEAS:CURR?", source = "s"}
"""
MADE = """[commissioned]
operator = "Jo"
date = "2025-03-04"
program = "bathvigil 0.1.0"
choice = "uint16"
[[commissioned.seen]]
asked = "registers 0 to 1"
raw = "04 b0"
shown = "12.0 V"
"""


def test_how_a_description_was_made_is_read(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(HEAD + MADE, encoding="utf-8")
    assert load_scpi_description(str(file)).heading.commissioned == Commissioned(
        "Jo",
        "2025-03-04",
        "bathvigil 0.1.0",
        "uint16",
        (Seen("registers 0 to 1", "04 b0", "12.0 V"),),
    )


def test_an_unknown_key_about_its_making_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(HEAD + MADE.replace("operator", "operater"), encoding="utf-8")
    with pytest.raises(BadDescription, match=r"operater is not known.*did you mean operator"):
        load_scpi_description(str(file))


def test_one_written_by_hand_has_no_such_table(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(HEAD, encoding="utf-8")
    assert load_scpi_description(str(file)).heading.commissioned is None
