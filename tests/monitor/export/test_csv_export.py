"""A run as a CSV file for machines: exact, unambiguous in time, harmless in a spreadsheet."""

import csv
import errno
import itertools
import os
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from drivers.reading import Mode
from monitor.base.whole_file import NotWritten
from monitor.export.table_exports import export_csv
from monitor.export.table_source import COLUMNS, seconds_text
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.reader import open_store
from tests.monitor.store.bench import BEGAN_UTC_NS, a_run, a_sample, a_store

BERLIN = ZoneInfo("Europe/Berlin")


def exported(folder: Path, rows: list[Sample | Gap], name: str = "out.csv") -> bytes:
    path = folder / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, row) for row in rows])
    with open_store(path) as store:
        assert export_csv(store.run(run), folder / name, zone=BERLIN) == len(rows)
    return (folder / name).read_bytes()


def cells(text: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(text.decode().splitlines()))


def test_the_file_byte_for_byte(tmp_path: Path) -> None:
    # Line ends and quotes as RFC 4180, section 2, wants them.
    rows: list[Sample | Gap] = [
        Sample(0, 0, BEGAN_UTC_NS, 900, 9.0, 4.25, None, Mode.CONSTANT_VOLTAGE),
        Sample(
            *(1, 12_345_678_901, BEGAN_UTC_NS + 1_999_999_999, 900, None, -0.02, 25.5),
            mode=Mode.CUT_OUT,
            quality=Quality.SUSPECT,
            reason='said "E,5"',
        ),
        Gap(2, 12_400_000_000, BEGAN_UTC_NS + 2_000_000_000, "no answer", "not in the file"),
    ]
    assert exported(tmp_path, rows) == (
        b"t_s,utc,local,volts,amps,celsius,mode,quality,reason\r\n"
        b"0.000000000,2025-06-15T15:06:40.000Z,2025-06-15T17:06:40.000+02:00,"
        b"9.0,4.25,,constant-voltage,good,\r\n"
        b"12.345678901,2025-06-15T15:06:41.999Z,2025-06-15T17:06:41.999+02:00,"
        b',-0.02,25.5,cut-out,suspect,"said ""E,5"""\r\n'
        b"12.400000000,2025-06-15T15:06:42.000Z,2025-06-15T17:06:42.000+02:00,"
        b",,,,missing,no answer\r\n"
    )


def test_an_empty_run_is_a_header(tmp_path: Path) -> None:
    assert exported(tmp_path, []).decode() == ",".join(COLUMNS) + "\r\n"


def test_the_autumn_night_has_no_hour_twice(tmp_path: Path) -> None:
    # Summer time ends at 01:00 UTC on the last Sunday in October: Directive 2000/84/EC, article 3.
    change = 1_761_440_400_000_000_000
    assert datetime.fromtimestamp(change / 1e9, ZoneInfo("UTC")).isoformat() == (
        "2025-10-26T01:00:00+00:00"
    )
    minute = 60_000_000_000
    rows: list[Sample | Gap] = [
        Sample(seq, seq * minute, change + (seq - 60) * minute, 1, 9.0, 5.0) for seq in range(121)
    ]
    table = cells(exported(tmp_path, rows))
    assert [row["local"] for row in table[::60]] == [
        "2025-10-26T02:00:00.000+02:00",
        "2025-10-26T02:00:00.000+01:00",
        "2025-10-26T03:00:00.000+01:00",
    ]
    for name in ("utc", "local"):
        moments = [datetime.fromisoformat(row[name]) for row in table]
        assert all(
            after - before == timedelta(minutes=1) for before, after in itertools.pairwise(moments)
        )


@pytest.mark.parametrize(
    "reason",
    # What a spreadsheet takes for a formula: OWASP, "CSV Injection".
    ["=cmd|' /C calc'!A0", "-2+3", "+1", "@x", "\t=1", "\r=1", "＝1"],
)
def test_text_is_never_a_formula(tmp_path: Path, reason: str) -> None:
    text = exported(tmp_path, [Gap(0, 0, BEGAN_UTC_NS, reason)])
    (row,) = csv.DictReader(text.decode().split("\r\n", 1)[1].splitlines(True), COLUMNS)
    assert row["reason"].startswith("'")


def test_a_negative_number_stays_a_number(tmp_path: Path) -> None:
    text = exported(tmp_path, [a_sample(0, amps=-0.02, volts=-1e-7)])
    (row,) = cells(text)
    assert (row["volts"], row["amps"]) == ("-1e-07", "-0.02")


def test_seconds_are_exact() -> None:
    assert seconds_text(0) == "0.000000000"
    assert seconds_text(2_592_000_123_456_789) == "2592000.123456789"
    assert seconds_text(-1_500_000_000) == "-1.500000000"


def test_an_export_replaces_the_older_one_and_leaves_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "out.csv").write_text("older")
    exported(tmp_path, [a_sample(0)])
    assert b"older" not in (tmp_path / "out.csv").read_bytes()
    assert sorted(file.name for file in tmp_path.iterdir() if "db" not in file.name) == ["out.csv"]


def test_a_link_is_kept_and_what_it_names_replaced(tmp_path: Path) -> None:
    (tmp_path / "real.csv").write_text("older")
    (tmp_path / "out.csv").symlink_to(tmp_path / "real.csv")
    exported(tmp_path, [a_sample(0)])
    assert (tmp_path / "out.csv").is_symlink()
    assert (tmp_path / "real.csv").read_bytes().startswith(b"t_s,")


def test_a_full_disk_keeps_the_older_export_and_leaves_no_half_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (tmp_path / "out.csv").write_text("older")
    monkeypatch.setattr("monitor.base.whole_file.os.fsync", full)
    with pytest.raises(NotWritten, match="No space left on device"):
        exported(tmp_path, [a_sample(0)])
    assert (tmp_path / "out.csv").read_text() == "older"
    assert sorted(file.name for file in tmp_path.iterdir() if "db" not in file.name) == ["out.csv"]


def test_no_folder_and_no_file_are_told(tmp_path: Path) -> None:
    with pytest.raises(NotWritten, match=r"cannot be written \(No such file or directory\)"):
        exported(tmp_path, [], "nowhere/out.csv")
    (tmp_path / "folder").mkdir()
    with pytest.raises(NotWritten, match="is not a file"):
        exported(tmp_path, [], "folder")
