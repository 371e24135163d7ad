"""A look at an export before it is written: its own lines, its rows, about its size."""

from pathlib import Path

import pytest

from monitor.export import preview
from monitor.export.preview import LINES, Preview, preview_of
from monitor.export.table_source import Rows, Tell
from monitor.store.reader import open_store
from tests.monitor.export.test_exports import FORMATS, some_rows
from tests.monitor.store.bench import a_run, a_store
from tests.monitor.store.test_sealing import record
from tests.monitor.store.test_sealing import some_rows as many_rows

TEXTS = [name for name in FORMATS if Path(name).suffix in (".csv", ".jsonl")]


def looked_at(path: Path, name: str) -> Preview:
    with open_store(path) as store:
        return preview_of(
            store.run(1), lambda run, to, _: FORMATS[name](run, to), Path(name).suffix
        )


@pytest.mark.parametrize("name", TEXTS)
def test_what_is_shown_are_the_files_own_first_lines(name: str, tmp_path: Path) -> None:
    record(tmp_path / "a.db", many_rows(100))
    shown = looked_at(tmp_path / "a.db", name)
    with open_store(tmp_path / "a.db") as store:
        FORMATS[name](store.run(1), tmp_path / name)
    lines = (tmp_path / name).read_text("utf-8-sig").splitlines()
    assert list(shown.lines) == lines[: 1 + LINES]
    assert (shown.rows, shown.size_bytes) == (100, (tmp_path / name).stat().st_size)


@pytest.mark.parametrize("name", FORMATS)
def test_the_size_of_a_long_run_is_reckoned_from_some_rows(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(preview, "SAMPLED", 1000)
    record(tmp_path / "a.db", many_rows(6000), batch=900)
    shown = looked_at(tmp_path / "a.db", name)
    with open_store(tmp_path / "a.db") as store:
        FORMATS[name](store.run(1), tmp_path / name)
    assert shown.rows == 6000
    assert shown.size_bytes == pytest.approx((tmp_path / name).stat().st_size, rel=0.15)


@pytest.mark.parametrize("name", FORMATS)
def test_only_some_rows_of_a_long_run_are_read(name: str, tmp_path: Path) -> None:
    record(tmp_path / "a.db", many_rows(9000), batch=900)
    seen: list[int] = []

    def export(run: Rows, to: Path, _: Tell) -> int:
        seen.append(FORMATS[name](run, to))
        return seen[-1]

    with open_store(tmp_path / "a.db") as store:
        preview_of(store.run(1), export, Path(name).suffix)
    assert seen == [4000, 0]


@pytest.mark.parametrize("name", ["columns.parquet", "book.xlsx"])
def test_what_is_no_text_is_shown_as_columns(name: str, tmp_path: Path) -> None:
    with a_store(tmp_path / "a.db") as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in some_rows()])
    shown = looked_at(tmp_path / "a.db", name)
    header, *rows = (line.split("\t") for line in shown.lines)
    assert len(rows) == shown.rows == 4
    assert [row[header.index("amps")] for row in rows] == [
        "4.25",
        "-0.02",
        "",
        "0.3333333333333333",
    ]
    assert rows[2][header.index("quality")] == "missing"


@pytest.mark.parametrize("name", FORMATS)
def test_a_run_without_rows_is_a_header(name: str, tmp_path: Path) -> None:
    record(tmp_path / "a.db", [])
    shown = looked_at(tmp_path / "a.db", name)
    assert (shown.rows, len(shown.lines)) == (0, 0 if name.endswith("jsonl") else 1)


def test_nothing_is_left_of_the_look(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(tmp_path / "a.db", many_rows(10))
    place = tmp_path / "place"
    place.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(place))
    looked_at(tmp_path / "a.db", "machine.csv")
    assert list(place.iterdir()) == []
