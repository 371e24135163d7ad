"""Every key of the sample, misspelt, moved or doubled: refused, and named. No limit is lost."""

import re
from pathlib import Path

import pytest

from drivers.base.table import tables_of
from monitor.base.errors import BadSettings
from monitor.settings import effective_limits_in_words, load_bench
from monitor.settings.bench import Bench
from monitor.settings.toml_lines import Statement, statements

SAMPLE = Path(__file__).with_name("bench.toml").read_text(encoding="utf-8")
LINES = SAMPLE.splitlines()
KEYS = [one for one in statements(SAMPLE) if not one.is_table]
TABLES = [one for one in statements(SAMPLE) if one.is_table]


def named(statement: Statement) -> str:
    return ".".join(statement.path)


def misspellings(word: str) -> list[str]:
    """A letter twice, two letters exchanged, a letter left out, another case."""
    swapped = next(
        word[:at] + word[at + 1] + word[at] + word[at + 2 :]
        for at in range(len(word) - 1)
        if word[at] != word[at + 1]
    )
    return [word + word[-1], swapped, word[:-1], word.upper()]


def refusal(folder: Path, lines: list[str]) -> str:
    path = folder / "bench.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(BadSettings) as refused:
        load_bench(path)
    assert "\n" not in str(refused.value)
    return str(refused.value).removeprefix(str(path))


def test_the_sample_holds_every_key_that_there_is() -> None:
    known = {key for keys in tables_of(Bench).values() for key in keys}
    # The token is kept in one of two places; the sample names the other one.
    assert {one.path[-1] for one in KEYS} == known - {
        "token_file",
        "amps",
        "conductors",
        "leads",
        "job",
        "channels",
    }
    assert {one.path[0] for one in TABLES} == set(Bench.model_fields)


@pytest.mark.parametrize("key", KEYS, ids=named)
def test_a_misspelt_key_is_refused_and_named_with_the_right_one(
    tmp_path: Path, key: Statement
) -> None:
    right = key.path[-1]
    for wrong in misspellings(right):
        lines = [*LINES]
        lines[key.line - 1] = lines[key.line - 1].replace(right, wrong, 1)
        message = refusal(tmp_path, lines)
        assert message.startswith(f", line {key.line}: ")
        assert f"{wrong} is not known" in message
        assert f"did you mean {right}?" in message


@pytest.mark.parametrize("table", TABLES, ids=named)
def test_a_misspelt_table_is_refused_and_named(tmp_path: Path, table: Statement) -> None:
    right = table.path[0]
    for wrong in misspellings(right):
        lines = [*LINES]
        lines[table.line - 1] = lines[table.line - 1].replace(right, wrong, 1)
        message = refusal(tmp_path, lines)
        assert message.startswith(f", line {table.line}: ")
        assert f"{wrong} is not known at the top; did you mean {right}?" in message


@pytest.mark.parametrize("key", KEYS, ids=named)
def test_a_key_in_another_table_is_refused_and_named_with_its_own(
    tmp_path: Path, key: Statement
) -> None:
    others = [table for table in TABLES if table.path[0] != key.path[0]]
    for table in others:
        lines = [*LINES]
        moved = lines.pop(key.line - 1)
        lines.insert(table.line - (key.line < table.line), moved)
        message = refusal(tmp_path, lines)
        assert f"{key.path[-1]} is not known in [" in message
        assert f"it belongs in [{key.path[0]}" in message


@pytest.mark.parametrize("key", KEYS, ids=named)
def test_a_key_above_all_tables_is_refused_and_named(tmp_path: Path, key: Statement) -> None:
    lines = [*LINES]
    lines.insert(0, lines.pop(key.line - 1))
    message = refusal(tmp_path, lines)
    assert message.startswith(", line 1: ")
    assert f"{key.path[-1]} is not known at the top; it belongs in" in message


@pytest.mark.parametrize("one", [*KEYS, *TABLES], ids=named)
def test_what_stands_twice_is_refused_and_named_with_both_lines(
    tmp_path: Path, one: Statement
) -> None:
    lines = [*LINES]
    lines.insert(one.line, lines[one.line - 1])
    message = refusal(tmp_path, lines)
    assert message.startswith(f", line {one.line + 1}: ")
    assert one.path[-1] in message
    assert f"occurs twice (first in line {one.line})" in message


@pytest.mark.parametrize(
    "key", [one for one in KEYS if one.path[-1] in {"address", "limit_amps", "litres"}], ids=named
)
def test_what_has_no_default_cannot_be_left_out(tmp_path: Path, key: Statement) -> None:
    lines = [*LINES]
    del lines[key.line - 1]
    assert f"{key.path[-1]} is missing in [" in refusal(tmp_path, lines)


@pytest.mark.parametrize("table", [one for one in TABLES if one.path[0] == "baths"], ids=named)
def test_a_bath_that_a_supply_feeds_cannot_be_left_out_or_renamed(
    tmp_path: Path, table: Statement
) -> None:
    lines = [*LINES]
    lines[table.line - 1] = f'[baths."{table.path[1]}s"]'
    message = refusal(tmp_path, lines)
    assert f"no bath '{table.path[1]}'; did you mean '{table.path[1]}s'?" in message


def watched(lines: list[str], folder: Path) -> list[str] | None:
    """What is watched of both supplies, as the operator reads it; None where it is refused."""
    path = folder / "bench.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    try:
        bench = load_bench(path)
    except BadSettings:
        return None
    return [words for name in bench.supplies for words in effective_limits_in_words(bench, name)]


def in_units(line: str, factor: float) -> str | None:
    """A line with all its numbers in units so much smaller or larger; None where it has none."""
    key, _, value = line.partition("=")
    if not re.match(r"\s*[\[\d]", value):
        return None
    number = re.compile(r"\d[\d_]*(\.\d+)?")
    return f"{key}={number.sub(lambda one: repr(float(one[0]) * factor), value)}"


@pytest.mark.parametrize("key", KEYS, ids=named)
def test_a_number_in_the_wrong_unit_is_refused_or_read_back_and_takes_no_alarm_away(
    tmp_path: Path, key: Statement
) -> None:
    whole = watched(LINES, tmp_path)
    assert whole is not None
    for factor in (1000.0, 0.001):
        line = in_units(LINES[key.line - 1], factor)
        if line is None:
            continue
        found = watched([*LINES[: key.line - 1], line, *LINES[key.line :]], tmp_path)
        if found is None:
            continue
        assert len(found) == len(whole), line
        assert found != whole or key.path[-1] in {
            # No limit of an alarm: how the link is asked, and what the job's advice goes by.
            "timeout_s",
            "micrometres",
            "holds_litres",
            "least_grams_per_litre",
            "back_fill_points_per_s",
            "within_s",
            "joined_within_s",
            # Beside the steps' own windows it is not in force.
            "lowest_volts",
            "highest_volts",
        }, line


@pytest.mark.parametrize("key", KEYS, ids=named)
def test_wherever_a_key_is_moved_to_no_alarm_goes_missing(tmp_path: Path, key: Statement) -> None:
    whole = watched(LINES, tmp_path)
    assert whole is not None
    for table in TABLES:
        lines = [*LINES]
        moved = lines.pop(key.line - 1)
        lines.insert(table.line - (key.line < table.line), moved)
        found = watched(lines, tmp_path)
        assert found is None or len(found) >= len(whole), f"{moved} in {named(table)}"
