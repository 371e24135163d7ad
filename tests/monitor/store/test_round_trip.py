"""Any rows, in any batches, some of them written again: what is read equals what was recorded."""

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import Mode
from monitor.model.sample import Gap, Quality, Sample
from monitor.store.reader import open_store
from tests.monitor.store.bench import BEGAN_UTC_NS, a_run, a_store

values = st.none() | st.floats(allow_nan=False, width=64)
reasons = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=20)


@st.composite
def recorded(draw: st.DrawFn, most: int = 40) -> list[Sample | Gap]:
    """Rows as a run has them: seq and time rise, everything else is free."""
    rows: list[Sample | Gap] = []
    seq, t_ns = -1, -1
    for _ in range(draw(st.integers(0, most))):
        seq += draw(st.integers(1, 3))
        t_ns += draw(st.integers(1, 10**12))
        utc_ns = BEGAN_UTC_NS + draw(st.integers(-(10**15), 10**15))
        if draw(st.booleans()):
            rows.append(Gap(seq, t_ns, utc_ns, draw(reasons)))
        else:
            quality = draw(st.sampled_from([Quality.GOOD, Quality.LATE, Quality.SUSPECT]))
            mode = draw(st.sampled_from(list(Mode)))
            latency = draw(st.integers(0, 10**9))
            three = (draw(values), draw(values), draw(values))
            reason = draw(st.none() | reasons)
            rows.append(Sample(seq, t_ns, utc_ns, latency, *three, mode, quality, reason))
    return rows


@settings(max_examples=60)
@given(rows=recorded(), data=st.data())
def test_rows_come_back_equal_whatever_the_batches(
    rows: list[Sample | Gap], data: st.DataObject
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.db"
        with a_store(path) as writer:
            run = a_run(writer)
            done = 0
            while done < len(rows):
                size = data.draw(st.integers(1, len(rows)), "rows of a batch")
                again = data.draw(st.integers(0, done), "rows written again")
                writer.write([(run, row) for row in rows[done - again : done + size]])
                done += size
        with open_store(path) as store:
            stored = store.run(run)
            assert list(stored.rows()) == rows
            summary, gaps, series = stored.summary(), stored.gaps(), stored.samples()
    missing = [row for row in rows if isinstance(row, Gap)]
    assert (summary.samples, summary.missing) == (len(rows) - len(missing), len(missing))
    assert sum(gap.polls for gap in gaps) == len(missing)
    stretches = sum(
        isinstance(row, Gap) and (at == 0 or isinstance(rows[at - 1], Sample))
        for at, row in enumerate(rows)
    )
    assert len(gaps) == summary.gaps == stretches
    assert series.t_ns.tolist() == [row.t_ns for row in rows]
    amps = [None if isinstance(row, Gap) else row.amps for row in rows]
    assert [None if np.isnan(one) else one for one in series.amps.tolist()] == amps
