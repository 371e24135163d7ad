"""A table on standard input: each line for itself, and what it means before the next is read."""

from io import BytesIO, RawIOBase

import pytest

from monitor.base.errors import BadTable
from monitor.export.table_stream import LONGEST_LINE, TableStream
from monitor.model.alarm import AlarmName, Change
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.watch.paced_vigil import PacedVigil
from monitor.watch.vigil import Vigil

HEADER = b"t_s,volts,amps\n"


def read(text: bytes) -> tuple[list[tuple[float, float | None]], list[str]]:
    complaints: list[str] = []
    rows = [one.row for one in TableStream(BytesIO(text), complaints.append).rows()]
    return [(row.t_s, getattr(row, "amps", None)) for row in rows], complaints


@pytest.mark.parametrize(
    ("broken", "why"),
    [
        (b"1,7,five\n", "amps is 'five'"),
        (b"1,7,nan\n", "amps is 'nan'"),
        (b"soon,7,5\n", "t_s is 'soon'"),
        (b"1,7,5,9,9\n", "5 cells under 3 columns"),
        (b'1,7,"5\n', "is not CSV"),
        (b"1,7,\xff\n", "not UTF-8"),
        (b"-1,7,5\n", "t_s goes back"),
        (b"1,7," + b"5" * LONGEST_LINE + b"\n", "longer than"),
    ],
)
def test_a_broken_line_is_told_with_its_number_and_left_out(broken: bytes, why: str) -> None:
    rows, complaints = read(HEADER + b"0,7,5\n" + broken + b"2,7,5.2\n")
    assert rows == [(0.0, 5.0), (2.0, 5.2)]
    (complaint,) = complaints
    assert complaint.startswith("line 3 ")
    assert why in complaint


def test_other_separators_decimal_commas_and_json_are_read() -> None:
    assert read(b"\xef\xbb\xbft_s;volts;amps\r\n0,5;7,0;5,1\r\n") == ([(0.5, 5.1)], [])
    assert read(b'{"t_s":0.5,"volts":7,"amps":5.1}\n{"t_s":\n') == (
        [(0.5, 5.1)],
        ["line 2 is left out: is not JSON (Expecting value: line 2 column 1 (char 8)); "
         "write one object a line"],
    )  # fmt: skip


def test_a_first_line_without_names_ends_it() -> None:
    with pytest.raises(BadTable, match="t_s"):
        read(b"0,7,5\n")


def test_missing_rows_are_gaps_that_are_no_lines_of_their_own() -> None:
    text = HEADER + b"".join(b"%d,7,5\n" % t for t in (0, 1, 2, 3, 9))
    rows = list(TableStream(BytesIO(text), print).rows())
    assert [one.is_own for one in rows] == [True] * 4 + [False] * 5 + [True]
    assert all(isinstance(one.row, Gap) for one in rows if not one.is_own)


class Slow(RawIOBase):
    """A logger whose next line comes only when it is asked for."""

    def __init__(self, lines: list[bytes]) -> None:
        self.lines = lines

    def readline(self, size: int | None = -1, /) -> bytes:
        return self.lines.pop(0) if self.lines else b""


def test_a_row_comes_before_the_next_line_is_asked_for() -> None:
    source = Slow([HEADER, b"0,7,5\n", b"1,7,5\n", b"2,7,5\n"])
    rows = TableStream(source, print).rows()  # type: ignore[arg-type]  # only `readline` is used
    for left in (2, 1, 0):
        next(rows)
        assert len(source.lines) == left


def test_a_watch_finds_its_pace_and_says_nothing_twice() -> None:
    made: list[float] = []

    def watch_at(poll_s: float) -> Vigil:
        made.append(poll_s)
        return Vigil(RunFacts("s", "", 10.0, poll_s=poll_s))

    paced = PacedVigil(watch_at)
    told: list[tuple[str, Change]] = []
    for n in range(60):
        row = Sample(n, n * 10**9, n * 10**9, 0, 0.3, 9.8)
        verdict = paced.update(row, 1.0 if n else None)
        told += [(event.alarm, event.change) for event in verdict.events]
    assert made == [0.2, 1.0]
    assert told.count((AlarmName.SHORT, Change.RAISED)) == 1
