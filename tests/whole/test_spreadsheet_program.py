"""Exports opened by LibreOffice Calc itself, in German and in English: the same numbers.

Debian's libreoffice-calc (7.4), without its recommended packages, is enough: it has the rules of
all languages.
"""

import subprocess
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from openpyxl import load_workbook

from monitor.export.table_exports import Marks, export_csv, export_spreadsheet, export_xlsx
from monitor.export.table_source import Rows
from monitor.model.sample import Gap, Sample
from monitor.store.reader import open_store
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, a_gap, a_run, a_sample, a_store
from tests.whole.real_servers import missing

NO_CALC = missing("soffice")
pytestmark = pytest.mark.skipif(NO_CALC is not None, reason=str(NO_CALC))

# Windows' numbers of languages, as the filter takes them (from memory): German, English (US).
GERMAN, ENGLISH = 1031, 1033
UTF_8 = 76
BERLIN = ZoneInfo("Europe/Berlin")
QUANTITIES = ("t_s", "volts", "amps", "celsius")


def rows() -> list[Sample | Gap]:
    """Small, large, negative and odd numbers, missing ones, and text that looks like a formula."""
    found: list[Sample | Gap] = [
        a_sample(seq, amps=5 + seq % 97 / 64, volts=9 + seq % 31 / 8) for seq in range(200)
    ]
    found[1] = replace(a_sample(1, -0.02, None), reason="-2+3")
    found[2] = a_gap(2, "=cmd|' /C calc'!A0")
    found[3] = replace(a_sample(3, 1 / 3, 1e-7), celsius=None, reason='said "1.234,5;7"')
    found[4] = a_sample(4, 1234.5678, 1000.0)
    found[5] = a_sample(5, 1.5, 12.01)  # no date, please: 12.01 is one in German
    return found


def opened(file: Path, options: str | None) -> list[tuple[object, ...]]:
    """A file's cells, as Calc shows them, header first."""
    to = file.with_suffix(f".calc-{file.suffix[1:]}")
    line = ["soffice", f"-env:UserInstallation=file://{file.parent}/profile", "--headless"]
    line += ["--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(to), str(file)]
    if options is not None:
        line.insert(3, f"--infilter={options}")
    done = subprocess.run(line, capture_output=True, text=True, timeout=120, check=False)
    book = load_workbook(to / f"{file.stem}.xlsx")
    assert done.returncode == 0, done.stderr
    return list(book.worksheets[0].iter_rows(values_only=True))


def as_csv(separator: str, language: int) -> str:
    """The tokens of Calc's text filter: separator, quotes, UTF-8, first line 1, the language."""
    return f"CSV:{ord(separator)},34,{UTF_8},1,,{language},false,true"


def check(cells: Sequence[Sequence[object]], offset_s: int | None) -> None:
    header = list(cells[0])
    told = rows()
    assert len(cells) == 1 + len(told)
    for row, line in zip(told, cells[1:], strict=True):
        found = dict(zip(header, line, strict=True))
        numbers = {"t_s": row.t_ns / 1e9, "volts": None, "amps": None, "celsius": None}
        if isinstance(row, Sample):
            numbers |= {"volts": row.volts, "amps": row.amps, "celsius": row.celsius}
        for name in QUANTITIES:
            expected, value = numbers[name], found[name]
            if expected is None:
                assert value is None
                continue
            assert isinstance(value, int | float)
            assert value == pytest.approx(expected, rel=1e-9, abs=1e-12)
        if offset_s is not None:
            local = found["local"]
            assert isinstance(local, datetime)
            seconds = (row.utc_ns - BEGAN_UTC_NS) / 1e9 + offset_s
            began = datetime.fromtimestamp(BEGAN_UTC_NS // 10**9, ZoneInfo("UTC"))
            expected_local = began.replace(tzinfo=None) + timedelta(seconds=seconds)
            assert abs((local - expected_local).total_seconds()) < 0.001
    assert [line[header.index("reason")] for line in cells[2:5]] == [
        "'-2+3", "'=cmd|' /C calc'!A0", 'said "1.234,5;7"'
    ]  # fmt: skip


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("store") / "a.db"
    with a_store(path) as writer:
        run = a_run(writer, HandClock())
        writer.write([(run, row) for row in rows()])
        writer.end_run(run, None, "done")
    return path


def exported(store: Path, to: Path, marks: Marks) -> Path:
    with open_store(store) as opened_store:
        run: Rows = opened_store.run(1)
        export_spreadsheet(run, to, marks, zone=BERLIN)
    return to


@pytest.mark.parametrize(
    ("marks", "language"),
    [
        pytest.param(Marks(";", ","), GERMAN, id="German"),
        pytest.param(Marks(",", "."), ENGLISH, id="English"),
    ],
)
def test_the_shops_spreadsheet_shows_the_stored_numbers_and_local_times(
    store: Path, tmp_path: Path, marks: Marks, language: int
) -> None:
    file = exported(store, tmp_path / "shop.csv", marks)
    # June: Berlin is two hours ahead of UTC.
    check(opened(file, as_csv(marks.separator, language)), 7200)


def test_the_file_for_machines_is_right_where_english_is_chosen(
    store: Path, tmp_path: Path
) -> None:
    with open_store(store) as opened_store:
        export_csv(opened_store.run(1), tmp_path / "machine.csv", zone=BERLIN)
    check(opened(tmp_path / "machine.csv", as_csv(",", ENGLISH)), None)


def test_the_workbook_needs_no_language(store: Path, tmp_path: Path) -> None:
    with open_store(store) as opened_store:
        export_xlsx(opened_store.run(1), tmp_path / "book.xlsx", zone=BERLIN)
    check(opened(tmp_path / "book.xlsx", None), None)
