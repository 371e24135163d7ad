"""Every export read back by replay's reader and by other programs' libraries: the same numbers."""

import csv
import json
import math
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from zipfile import ZipFile
from zoneinfo import ZoneInfo

import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import assume, given, settings
from openpyxl import load_workbook
from pyarrow import parquet

from drivers.reading import Mode
from monitor.base.errors import BadTable, BathvigilError, WrongUse
from monitor.export.facts_export import export_facts
from monitor.export.table_exports import (
    Marks,
    export_csv,
    export_json_lines,
    export_parquet,
    export_spreadsheet,
    export_xlsx,
)
from monitor.export.table_input import read_table
from monitor.export.table_source import Rows as RunRows
from monitor.model.card import JobCard, Way
from monitor.model.entry import Entry, Kind
from monitor.model.event import Mark
from monitor.model.outcome import Gone, Outcome
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.bath_rows import BathBook
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from tests.clock import HandClock
from tests.monitor.export.test_csv_round_trip import recorded
from tests.monitor.store.bench import BEGAN_UTC_NS, a_gap, a_run, a_sample, a_store, an_event

Rows = list[Sample | Gap]
BERLIN = ZoneInfo("Europe/Berlin")
QUANTITIES = ("volts", "amps", "celsius")
GERMAN, ENGLISH, TABS = Marks(";", ","), Marks(",", "."), Marks("\t", ",")

FORMATS: dict[str, Callable[[RunRows, Path], int]] = {
    "machine.csv": lambda run, to: export_csv(run, to, zone=BERLIN),
    "german.csv": lambda run, to: export_spreadsheet(run, to, GERMAN, zone=BERLIN),
    "english.csv": lambda run, to: export_spreadsheet(run, to, ENGLISH, zone=BERLIN),
    "tabs.csv": lambda run, to: export_spreadsheet(run, to, TABS, zone=BERLIN),
    "lines.jsonl": lambda run, to: export_json_lines(run, to, zone=BERLIN),
    "columns.parquet": export_parquet,
    "book.xlsx": lambda run, to: export_xlsx(run, to, zone=BERLIN),
}


def exported(rows: Rows, name: str, folder: Path, is_ended: bool = True) -> Path:
    path = folder / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in rows])
        if is_ended:
            writer.end_run(run, None, "done")
    with open_store(path) as store:
        assert FORMATS[name](store.run(run), folder / name) == len(rows)
    return folder / name


def some_rows() -> Rows:
    return [
        a_sample(0, 4.25, 9.0),
        replace(a_sample(1, -0.02, None), reason='said "E;5", \u00fc', quality=Quality.SUSPECT),
        a_gap(2, "=cmd|' /C calc'!A0"),
        replace(a_sample(3, 1 / 3, 1e-7), celsius=None, mode=Mode.CUT_OUT),
    ]


@pytest.mark.parametrize("name", [name for name in FORMATS if name != "book.xlsx"])
def test_any_run_comes_back_by_replays_reader_to_the_bit(name: str) -> None:
    @settings(max_examples=40)
    @given(rows=recorded())
    def check(rows: Rows) -> None:
        with tempfile.TemporaryDirectory() as folder:
            assert list(read_table(exported(rows, name, Path(folder)))) == rows

    check()


@settings(max_examples=15)
@given(rows=recorded())
def test_any_run_comes_back_from_a_workbook_with_sixteen_digits(rows: Rows) -> None:
    def rounded(value: float | None) -> float | None:
        return None if value is None else float(f"{value:.16g}")

    values = [getattr(row, name, None) or 0.0 for row in rows for name in QUANTITIES]
    # Rounded up to 16 digits the very largest would be infinite.
    assume(all(abs(value) < 1e308 for value in values))
    with tempfile.TemporaryDirectory() as folder:
        back = list(read_table(exported(rows, "book.xlsx", Path(folder))))
    assert back == [
        row
        if isinstance(row, Gap)
        else replace(
            row,
            volts=rounded(row.volts),
            amps=rounded(row.amps),
            celsius=rounded(row.celsius),
        )
        for row in rows
    ]


@pytest.mark.parametrize("name", FORMATS)
def test_an_empty_run_is_a_table_without_rows(name: str, tmp_path: Path) -> None:
    assert list(read_table(exported([], name, tmp_path))) == []


@pytest.mark.parametrize("name", FORMATS)
def test_a_long_run_comes_back_over_many_pages(name: str, tmp_path: Path) -> None:
    rows: Rows = [a_sample(seq, round(5 + seq / 1000, 3)) for seq in range(9000)]
    back = list(read_table(exported(rows, name, tmp_path)))
    assert [row.t_ns for row in back] == [row.t_ns for row in rows]
    assert [getattr(row, "amps", None) for row in back] == numbers(rows, "amps")


def german(text: str) -> float:
    # CLDR 47, de: decimal comma.
    return float(text.replace(",", "."))


def test_the_spreadsheets_file_by_the_rules_of_a_german_one(tmp_path: Path) -> None:
    text = exported(some_rows(), "german.csv", tmp_path).read_bytes()
    # The mark that makes a spreadsheet take a file for UTF-8: Unicode 16, 23.8.
    assert text.startswith(b"\xef\xbb\xbft_s;local;utc_offset;volts;")
    lines = list(csv.DictReader(text.decode("utf-8-sig").splitlines(), delimiter=";"))
    assert lines[0]["local"] == "2025-06-15 17:06:40,000"
    assert lines[0]["utc_offset"] == "+02:00"
    assert [line["volts"] for line in lines] == ["9,0", "", "", "1e-07"]
    assert german(lines[3]["amps"]) == 1 / 3
    assert lines[1]["amps"] == "-0,02"
    assert lines[1]["reason"] == 'said "E;5", \u00fc'
    assert lines[2]["reason"].startswith("'=")


def test_the_spreadsheets_file_by_the_rules_of_an_english_one(tmp_path: Path) -> None:
    text = exported(some_rows(), "english.csv", tmp_path).read_text("utf-8-sig")
    lines = list(csv.DictReader(text.splitlines()))
    assert lines[0]["local"] == "2025-06-15 17:06:40.000"
    assert [line["amps"] for line in lines] == ["4.25", "-0.02", "", repr(1 / 3)]


def test_the_autumn_night_comes_back_in_order_from_a_spreadsheets_local_time(
    tmp_path: Path,
) -> None:
    # Summer time ends at 01:00 UTC on the last Sunday in October: Directive 2000/84/EC, article 3.
    change = 1_761_440_400_000_000_000
    minute = 60_000_000_000
    rows: Rows = [
        Sample(seq, seq * minute, change + (seq - 90) * minute, 0, 9.0, 5.0) for seq in range(181)
    ]
    for name in ("german.csv", "english.csv", "machine.csv"):
        folder = tmp_path / name
        folder.mkdir()
        assert list(read_table(exported(rows, name, folder))) == rows


def test_separator_and_decimal_mark_must_differ() -> None:
    with pytest.raises(WrongUse, match="choose others"):
        Marks(",", ",")


def numbers(rows: Rows, name: str) -> list[float]:
    values = [None if isinstance(row, Gap) else getattr(row, name) for row in rows]
    return [math.nan if value is None else value for value in values]


def column_of(frame: pd.DataFrame, name: str) -> list[float]:
    values: list[float] = frame[name].astype(float).tolist()
    return values


@pytest.mark.parametrize("name", FORMATS)
def test_pandas_reads_the_same_numbers(name: str, tmp_path: Path) -> None:
    rows = some_rows()
    path = exported(rows, name, tmp_path)
    read: dict[str, Callable[[], pd.DataFrame]] = {
        "machine.csv": lambda: pd.read_csv(path),
        "german.csv": lambda: pd.read_csv(path, sep=";", decimal=","),
        "english.csv": lambda: pd.read_csv(path),
        "tabs.csv": lambda: pd.read_csv(path, sep="\t", decimal=","),
        "lines.jsonl": lambda: pd.read_json(path, lines=True, precise_float=True),
        "columns.parquet": lambda: pd.read_parquet(path),
        "book.xlsx": lambda: pd.read_excel(path),
    }
    frame = read[name]()
    for quantity in QUANTITIES:
        # pandas' decimal commas are read to 1e-15 or so.
        same = pytest.approx(numbers(rows, quantity), rel=1e-14, nan_ok=True)
        assert column_of(frame, quantity) == same
    assert frame["quality"].tolist() == ["good", "suspect", "missing", "good"]
    assert column_of(frame, "t_s") == [row.t_s for row in rows]


def test_arrow_reads_times_to_the_nanosecond_and_missing_as_null(tmp_path: Path) -> None:
    rows: Rows = [Sample(0, 1, BEGAN_UTC_NS + 1, 0, 9.0, None), a_gap(1)]
    table = parquet.read_table(exported(rows, "columns.parquet", tmp_path))
    assert table["utc"].cast(pa.int64()).to_pylist() == [row.utc_ns for row in rows]
    assert table["amps"].null_count == 2
    assert table["mode"].to_pylist() == ["unknown", None]


def test_a_workbooks_numbers_are_numbers_and_its_text_no_formula(tmp_path: Path) -> None:
    book = load_workbook(exported(some_rows(), "book.xlsx", tmp_path))
    cells = list(book.worksheets[0].iter_rows(min_row=2))
    assert [cell.data_type for cell in cells[0]][:4] == ["n", "s", "s", "n"]
    assert cells[2][8].data_type == "s"
    assert cells[2][8].value.startswith("'=")


def test_a_workbook_goes_on_in_further_sheets(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("monitor.export.table_exports.ROWS_A_SHEET", 40)
    rows: Rows = [a_sample(seq) for seq in range(100)]
    path = exported(rows, "book.xlsx", tmp_path)
    assert [sheet.max_row for sheet in load_workbook(path).worksheets] == [41, 41, 21]
    assert len(list(read_table(path))) == 100


def test_what_xml_cannot_hold_is_told_by_a_mark(tmp_path: Path) -> None:
    path = exported([a_gap(0, "said \x00\x07!")], "book.xlsx", tmp_path)
    (row,) = read_table(path)
    assert row.reason == "said \ufffd\ufffd!"


@pytest.mark.parametrize("name", FORMATS)
def test_a_run_that_goes_on_is_exported_as_far_as_it_is(name: str, tmp_path: Path) -> None:
    rows = some_rows()
    back = list(read_table(exported(rows, name, tmp_path, is_ended=False)))
    assert len(back) == len(rows)


@pytest.mark.parametrize(
    ("library", "name"), [("pyarrow", "columns.parquet"), ("openpyxl", "book.xlsx")]
)
def test_a_missing_library_is_told_with_the_extra_that_brings_it(
    library: str, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = exported(some_rows(), name, tmp_path)
    monkeypatch.setitem(sys.modules, library, None)
    extra = path.suffix[1:]
    for use in (lambda: read_table(path), lambda: exported(some_rows(), name, tmp_path)):
        with pytest.raises(BathvigilError, match=rf"pip install 'bathvigil\[{extra}\]'") as told:
            use()
        assert "\n" not in str(told.value)


@pytest.mark.parametrize("ending", ["jsonl", "parquet", "xlsx"])
def test_a_file_that_is_no_such_table_is_told(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"a.{ending}"
    with pytest.raises(BadTable, match="cannot be read"):
        list(read_table(path))
    path.write_bytes(b"nothing of the kind")
    with pytest.raises(BadTable, match=r"is not (JSON|Parquet|a workbook)"):
        list(read_table(path))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"t_s":0,"volts":9}', "line 1: no column amps"),
        ("[1]", "line 1: is not an object"),
        ('{"t_s":0,"volts":"nine","amps":4}', "volts is 'nine', not a number"),
        ('{"t_s":1,"volts":9,"amps":4}\n{"t_s":0,"volts":9,"amps":4}', "line 2: t_s goes back"),
    ],
)
def test_mistakes_in_json_lines_are_told_with_their_line(
    text: str, says: str, tmp_path: Path
) -> None:
    (tmp_path / "a.jsonl").write_text(text)
    with pytest.raises(BadTable) as told:
        list(read_table(tmp_path / "a.jsonl"))
    assert says.removeprefix("line 1: ") in str(told.value)


def test_the_facts_beside_an_export_are_those_of_the_run(tmp_path: Path) -> None:
    clock = HandClock()
    with a_store(tmp_path / "a.db") as writer:
        run = a_run(writer, clock)
        writer.write([(run, a_sample(0)), (run, a_gap(1)), (run, an_event(1))])
        writer.write([(run, Mark(1, 7, BEGAN_UTC_NS, "hazy \u00e4"))])
        clock.pass_s(9)
        writer.end_run(run, None, "ended by the operator")
    box = JobBox(tmp_path / "a.db")
    box.put_card(
        run, JobCard("north tank", "strip", Way.TANK, "bell", 1.6, 0.3, "Ada", "order 112")
    )
    box.put_outcome(run, Outcome(Gone.YES, None, "Ada"))
    ledger = BathBook(tmp_path / "a.db")
    ledger.add(Entry("north tank", Kind.MAKE_UP, 5, 9.0, None, 60.0, "caustic"))
    ledger.add(
        Entry(
            "north tank",
            Kind.TITRATION,
            1_000_000_000,
            grams_per_litre=48.0,
            carbonate_grams_per_litre=21.0,
        )
    )
    # What was done after the run began is no fact of the run.
    ledger.add(Entry("north tank", Kind.DILUTION, clock.utc_ns(), litres=1.0))
    with open_store(tmp_path / "a.db") as store:
        export_facts(store.run(run), tmp_path / "f.json", zone=BERLIN)
    facts = json.loads((tmp_path / "f.json").read_text("utf-8"))
    assert (facts["limit_amps"], facts["at_limit"], facts["bath"]) == (10, "trips", "north tank")
    assert facts["zone_of_local"] == "Europe/Berlin (UTC+0200 when the run began)"
    assert facts["alarms"][0]["alarm"] == "trip-expected"
    assert facts["marks"] == [
        {"number": 1, "t_s": 7e-9, "utc": "2025-06-15T15:06:40.000Z", "text": "hazy \u00e4"}
    ]
    assert facts["gaps"][0]["polls"] == 1
    assert (facts["card"]["way"], facts["card"]["reference"]) == ("tank", "order 112")
    assert facts["outcome"] == {"gone": "yes", "film_holds": None, "by": "Ada"}
    assert facts["bath_by_ledger"] == {
        "litres": 9.0,
        "solution": "caustic",
        "grams_per_litre": 48.0,
        "carbonate_grams_per_litre": 21.0,
        "made_up_utc": "1970-01-01T00:00:00.000Z",
        "titrated_utc": "1970-01-01T00:00:01.000Z",
    }
    # Settings may hold addresses of notices that are as good as passwords.
    assert "settings" not in facts


def test_a_workbook_that_is_spoilt_inside_is_told_in_one_line(tmp_path: Path) -> None:
    path = exported(some_rows(), "book.xlsx", tmp_path)
    with ZipFile(path) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    sheet = next(name for name in parts if name.startswith("xl/worksheets/"))
    for spoilt in (parts[sheet][:-200] + b"\x00<", parts[sheet].replace(b"<v>", b"<v>\x1b", 1)):
        with ZipFile(path, "w") as book:
            for name, data in {**parts, sheet: spoilt}.items():
                book.writestr(name, data)
        with pytest.raises(BadTable, match=r"is damaged|is not a workbook"):
            list(read_table(path))
