"""A description tells where it comes from: operator, date, choice and the raw answers."""

from pathlib import Path

import pytest

from drivers.description import Commissioned, Seen, open_description
from drivers.errors import BadDescription

HEAD = 'format = 1\nkind = "scpi"\ntitle = "t"\nsource = "s"\n'
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
    heading, top = open_description(str(file), "scpi")
    assert heading.commissioned == Commissioned(
        "Jo",
        "2025-03-04",
        "bathvigil 0.1.0",
        "uint16",
        (Seen("registers 0 to 1", "04 b0", "12.0 V"),),
    )
    top.refuse_the_rest()


def test_an_unknown_key_about_its_making_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(HEAD + MADE.replace("operator", "operater"), encoding="utf-8")
    with pytest.raises(BadDescription, match=r"operator is missing; is 'operater' meant"):
        open_description(str(file), "scpi")


def test_one_written_by_hand_has_no_such_table(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(HEAD, encoding="utf-8")
    assert open_description(str(file), "scpi")[0].commissioned is None
