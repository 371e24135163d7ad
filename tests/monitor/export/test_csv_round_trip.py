"""Any recorded run, exported and read again: the same rows, to the bit."""

import tempfile
from dataclasses import replace
from datetime import UTC
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import Mode
from monitor.export.table_exports import export_csv
from monitor.export.table_input import read_csv
from monitor.export.table_rows import HOLE_REASON
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.reader import open_store
from tests.monitor.store.bench import BEGAN_UTC_NS, a_run, a_store

values = st.none() | st.floats(allow_nan=False, allow_infinity=False)
# Line ends are left out: a spreadsheet's own rules for them inside a cell differ.
reasons = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=12
)


@st.composite
def recorded(draw: st.DrawFn) -> list[Sample | Gap]:
    rows: list[Sample | Gap] = []
    t_ns = 0
    for seq in range(draw(st.integers(0, 30))):
        t_ns += draw(st.integers(0, 900_000_000))
        # The file keeps the wall clock to the millisecond.
        utc_ns = BEGAN_UTC_NS + t_ns // 1_000_000 * 1_000_000
        if draw(st.booleans()):
            rows.append(Gap(seq, t_ns, utc_ns, draw(reasons)))
            continue
        volts, amps = draw(values), draw(values)
        if volts is None and amps is None:
            volts = 9.0
        quality = draw(st.sampled_from([Quality.GOOD, Quality.LATE, Quality.SUSPECT]))
        mode, reason = draw(st.sampled_from(list(Mode))), draw(st.none() | reasons)
        celsius = draw(values)
        rows.append(Sample(seq, t_ns, utc_ns, 0, volts, amps, celsius, mode, quality, reason))
    return rows


def there_and_back(rows: list[Sample | Gap]) -> list[Sample | Gap]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.db"
        with a_store(path) as writer:
            run = a_run(writer)
            writer.write([(run, row) for row in rows])
        with open_store(path) as store:
            export_csv(store.run(run), Path(folder) / "a.csv", zone=UTC)
        return list(read_csv(Path(folder) / "a.csv"))


@settings(max_examples=80)
@given(recorded())
def test_what_was_recorded_is_what_is_read(rows: list[Sample | Gap]) -> None:
    assert there_and_back(rows) == rows


def test_the_time_without_a_recorder_comes_back_as_a_hole() -> None:
    rows: list[Sample | Gap] = [
        Sample(seq, t_ms * 1_000_000, BEGAN_UTC_NS + t_ms * 1_000_000, 0, 9.0, 5.0)
        for seq, t_ms in enumerate([*range(0, 4000, 200), *range(9000, 12_000, 200)])
    ]
    back = there_and_back(rows)
    holes = [row for row in back if isinstance(row, Gap)]
    assert {hole.reason for hole in holes} == {HOLE_REASON}
    assert (holes[0].t_s, holes[-1].t_s) == (4.0, 8.8)
    answers = [row for row in back if isinstance(row, Sample)]
    assert [replace(row, seq=0) for row in answers] == [replace(row, seq=0) for row in rows]
