"""What docs/DRIVERS.md shows of descriptions can be loaded and does what is said of it."""

import re
from pathlib import Path

import pytest

from drivers.lines.lines_description import load_lines_description

PAGE = Path(__file__).parents[3] / "docs" / "DRIVERS.md"
HEAD = 'format = 1\nkind = "lines"\ntitle = "t"\nsource = "s"\n'


def test_the_whole_description_is_read(tmp_path: Path) -> None:
    (text,) = [
        block
        for block in re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
        if block.startswith("format")
    ]
    file = tmp_path / "shown.toml"
    file.write_text(text, encoding="utf-8")
    description = load_lines_description(str(file))
    values = description.asked[0].form.understand("12.04;5.37;64.7")
    assert (values.numbers["volts"].value, values.numbers["amps"].value) == (12.04, 5.37)
    assert (description.style.rest_s, description.style.ignored) == (0.05, ("> ",))


@pytest.mark.parametrize(
    ("written", "answer", "volts"),
    [
        ("pattern = 'V=(?P<volts>[0-9.]+) (?P<volts_unit>m?V)'", "V=850 mV", 0.85),
        (
            'keys = {volts = "/out/v", amps = "/out/i"}',
            '{"out": {"v": 12.04, "i": 5.37}}',
            12.04,
        ),
        (
            'columns = {separator = ";", count = 4, volts = 2, amps = 3, status = 4}',
            "17;12.04;5.37;CV",
            12.04,
        ),
    ],
)
def test_each_form_of_answer_is_read(
    written: str, answer: str, volts: float, tmp_path: Path
) -> None:
    assert written in PAGE.read_text(encoding="utf-8")
    file = tmp_path / "shown.toml"
    amps = "[[answer]]\nask = 'I?'\npattern = 'I(?P<amps>[0-9.]+)'\nsource = 's'\n"
    file.write_text(
        f"{HEAD}[[answer]]\nask = 'V?'\nsource = 's'\n{written}\n"
        + ("" if "amps" in written else amps),
        encoding="utf-8",
    )
    form = load_lines_description(str(file)).asked[0].form
    assert form.understand(answer).numbers["volts"].value == volts
