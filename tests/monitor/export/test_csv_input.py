"""Tables of readings: read exactly, holes found, mistakes told with their line."""

import codecs
from collections.abc import Iterator
from itertools import islice, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Mode
from monitor.base.errors import BadTable, WrongUse
from monitor.export.table_input import read_csv
from monitor.export.table_rows import HOLE_REASON, TableRows
from monitor.model.sample import Gap, Quality, Sample

HEADER = "t_s,volts,amps"


def read(*lines: str, header: str = HEADER) -> list[Sample | Gap]:
    return list(read_csv([header, *lines]))


def steady(until: int, step: float = 0.2, **_: object) -> list[str]:
    return [f"{number * step:.3f},9.0,5.0" for number in range(until)]


def test_the_least_table(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("t_s,volts,amps\n0,9.5,4.25\n0.2,9.5,4.5\n")
    assert list(read_csv(path)) == [
        Sample(0, 0, 0, 0, 9.5, 4.25),
        Sample(1, 200_000_000, 200_000_000, 0, 9.5, 4.5),
    ]


def test_all_that_is_read_and_all_that_is_passed_over() -> None:
    (row,) = read(
        "bench-1,2.5,9,4,31.25,constant-current,suspect,amps jumped,2025-06-15T15:06:40.250Z",
        header="supply,t_s,volts,amps,celsius,mode,quality,reason,utc",
    )
    assert row == Sample(
        *(0, 2_500_000_000, 1_750_000_000_250_000_000, 0, 9.0, 4.0, 31.25),
        mode=Mode.CONSTANT_CURRENT,
        quality=Quality.SUSPECT,
        reason="amps jumped",
    )


def test_words_of_another_program_in_our_columns_are_passed_over() -> None:
    header = f"{HEADER},mode,quality,utc"
    (row,) = read("1,9,4,CC,0.93,yesterday", header=header)
    assert row == Sample(0, 1_000_000_000, 1_000_000_000, 0, 9.0, 4.0)
    # Without its distance from UTC a time is no moment.
    (row,) = read("1,9,4,,,2025-06-15T15:06:40", header=header)
    assert row.utc_ns == 1_000_000_000


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_mark_at_the_beginning_and_either_line_end_are_read(tmp_path: Path, end: str) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(codecs.BOM_UTF8 + f'"t_s","volts","amps"{end}0,9,4{end}{end}'.encode())
    assert len(list(read_csv(path))) == 1


def test_names_of_columns_may_have_spaces_and_capitals() -> None:
    assert len(read("0,9,4", header=" T_S , Volts,AMPS")) == 1


def test_an_empty_cell_is_a_missing_value_and_never_a_nought() -> None:
    volts, amps, celsius = read("0,,4,20", "1,9, ,20", "2,9,4,", header=f"{HEADER},celsius")
    assert isinstance(volts, Sample)
    assert isinstance(amps, Sample)
    assert isinstance(celsius, Sample)
    assert (volts.volts, amps.amps, celsius.celsius) == (None, None, None)


def test_cells_that_a_spreadsheet_left_out_at_the_end_are_empty() -> None:
    (row,) = read("0,9,4", header=f"{HEADER},celsius,note")
    assert isinstance(row, Sample)
    assert row.celsius is None
    assert len(read("0,9,4,,,", header=HEADER)) == 1


def test_a_row_without_values_or_of_missing_quality_is_a_gap() -> None:
    header = f"{HEADER},quality,reason"
    empty, missing = read("0,,,,", "1,9,4,missing,no answer", header=header)
    assert empty == Gap(0, 0, 0, "no value in the file")
    assert missing == Gap(1, 1_000_000_000, 1_000_000_000, "no answer")


def test_an_apostrophe_that_export_put_before_text_is_taken_off() -> None:
    (row,) = read("0,,,'=1+1", header=f"{HEADER},reason")
    assert isinstance(row, Gap)
    assert row.reason == "=1+1"


def test_times_are_read_to_the_nanosecond() -> None:
    (row,) = read("2592000.123456789,9,4")
    assert row.t_ns == 2_592_000_123_456_789
    assert read("1.5e3,9,4")[0].t_ns == 1_500_000_000_000


def test_a_leap_in_time_is_a_gap_for_each_row_that_is_not_there() -> None:
    lines = steady(20)
    rows = read(*lines[:10], *lines[16:])
    gaps = [row for row in rows if isinstance(row, Gap)]
    assert [gap.t_ns // 1_000_000 for gap in gaps] == [2000, 2200, 2400, 2600, 2800, 3000]
    assert {gap.reason for gap in gaps} == {HOLE_REASON}
    assert [row.seq for row in rows] == list(range(20))
    assert [row.t_ns for row in rows] == sorted(row.t_ns for row in rows)


@pytest.mark.parametrize(
    ("step", "left_out", "holes"),
    [
        # Below a second nothing is a hole, below three and a half steps neither.
        (0.2, 3, 0),
        (0.2, 5, 5),
        (1.0, 2, 0),
        (1.0, 3, 3),
        (10.0, 2, 0),
        (10.0, 4, 4),
        (0.05, 19, 0),
        (0.05, 21, 21),
    ],
)
def test_what_counts_as_a_hole(step: float, left_out: int, holes: int) -> None:
    lines = steady(100, step)
    rows = read(*lines[:50], *lines[50 + left_out :])
    assert sum(isinstance(row, Gap) for row in rows) == holes


def test_a_hole_in_the_first_rows_is_found_too() -> None:
    lines = steady(100)
    rows = read(lines[0], *lines[50:])
    assert sum(isinstance(row, Gap) for row in rows) == 49


def test_a_pace_that_really_changes_is_no_hole_for_long() -> None:
    slow = [f"{100 + 10 * number},9,5" for number in range(60)]
    rows = read(*steady(100), *slow)
    last = [row for row in rows if row.t_s > 400]
    assert not any(isinstance(row, Gap) for row in last)


def test_a_hole_of_a_month_stays_small() -> None:
    rows = read(*steady(40), "2592000,9,5")
    gaps = [row for row in rows if isinstance(row, Gap)]
    assert 1000 < len(gaps) < 12_000
    # What matters first, such as an alarm after some seconds without data, is as fine as ever.
    assert gaps[24].t_ns - gaps[0].t_ns == pytest.approx(24 * 0.2e9, abs=10)
    assert rows[-1].t_ns == 2_592_000_000_000_000


def test_a_hole_has_the_wall_clock_of_its_ends() -> None:
    header = f"{HEADER},utc"
    lines = [f"{n},9,4,2025-06-15T15:06:{n:02d}.000Z" for n in (0, 1, 2, 3, 10)]
    rows = read(*lines, header=header)
    assert [row.utc_ns - rows[0].utc_ns for row in rows] == [row.t_ns for row in rows]
    assert len(rows) == 11


def test_equal_times_are_no_mistake() -> None:
    assert len(read("0,9,4", "0,9,5", "0,9,6")) == 3


def test_the_usual_step_is_known_at_once() -> None:
    assert read_csv([HEADER, *steady(50, 0.5)]).step_s == 0.5
    assert read_csv([HEADER, "0,9,4"]).step_s is None


def test_a_file_is_read_as_it_is_asked_for() -> None:
    def without_end() -> Iterator[str]:
        yield HEADER
        number = 0
        while True:
            yield f"{number / 5},9,4"
            number += 1

    rows = read_csv(without_end())
    assert isinstance(rows, TableRows)
    assert [row.seq for row in islice(rows, 1000)] == list(range(1000))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: no column t_s, volts, amps; the first line must name"),
        ("\n\n", "no column t_s, volts, amps"),
        ("t_s,volts\n0,9", "line 1: no column amps;"),
        ("t_s|volts|amps\n0|9|4", "separated by commas (it names: t_s|volts|amps)"),
        ("t_s;volts;amps\n0;9,5;4.1.2", "line 2: amps is '4.1.2', not a number"),
        ("t_s;volts;amps\n0;1.009,5;4", "line 2: volts is '1.009,5', not a number"),
        ("t_s,volts,amps,amps\n0,9,4,4", "line 1: column amps occurs twice; remove one"),
        ("t_s,volts,amps\n0,9,4\n1,nine,4", "line 3: volts is 'nine', not a number; write it with"),
        ('t_s,volts,amps\n0,"9,5",4', "line 2: volts is '9,5', not a number"),
        ("t_s,volts,amps\n0,9,nan", "line 2: amps is 'nan', not a number"),
        ("t_s,volts,amps\n0,9,inf", "or leave the cell empty where there is no value"),
        ("t_s,volts,amps\n0,9,1_0", "amps is '1_0', not a number"),
        ("t_s,volts,amps,celsius\n0,9,4,warm", "celsius is 'warm', not a number"),
        ("t_s,volts,amps\n,9,4", "line 2: t_s is '', not a time; every row needs"),
        ("t_s,volts,amps\nnoon,9,4", "t_s is 'noon', not a time"),
        ("t_s,volts,amps\nInfinity,9,4", "t_s is 'Infinity', not a time"),
        ("t_s,volts,amps\n1e99999999,9,4", "t_s is '1e99999999', not a time"),
        ("t_s,volts,amps\n0,9,4\n2,9,4\n1.5,9,4", "line 4: t_s goes back from 2 to 1.5; sort"),
        ("t_s,volts,amps\n0,0,9,0,4,5", "line 2: has 6 cells under 3 columns; write decimal"),
        ('t_s,volts,amps\n0,"9"x,4', "line 2: is not CSV"),
        ("t_s,volts,amps\n0,9,4\n\n\n1,x,4", "line 5: volts is 'x'"),
    ],
)  # fmt: skip
def test_each_mistake_is_told_with_its_line_and_cure(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text)
    with pytest.raises(BadTable) as refused:
        list(read_csv(path))
    assert str(refused.value).startswith(f"{path}, line ")
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match=r"cannot be read \(No such file or directory\)"):
        read_csv(tmp_path / "nowhere.csv")
    (tmp_path / "a.csv").write_bytes(f"{HEADER}\n0,9,4,K\xfchlung".encode("latin-1"))
    with pytest.raises(BadTable, match="is not UTF-8 text"):
        list(read_csv(tmp_path / "a.csv"))


def test_a_bad_table_is_wrong_use() -> None:
    assert issubclass(BadTable, WrongUse)


def test_a_mistake_far_down_leaves_the_rows_before_it_usable() -> None:
    rows = read_csv([HEADER, *steady(100), "20,x,4"])
    assert len(list(islice(rows, 100))) == 100
    with pytest.raises(BadTable, match="the table, line 102"):
        next(rows)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_and_nothing_else(text: str) -> None:
    try:
        rows = list(read_csv([HEADER, *text.splitlines()]))
    except BadTable:
        return
    assert all(earlier.t_ns <= later.t_ns for earlier, later in pairwise(rows))
