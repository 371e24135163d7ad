"""Sealed estimates: thinned where nothing happens, whole around what does, small, guarded."""

import random
import sqlite3
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model.estimate import Charge, Estimate, Forecast, Heat, NoForecast
from monitor.model.event import Mark, Prompt
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.store import sealing
from monitor.store.chunk import pack_estimates, unpack_estimates
from monitor.store.estimate_rows import NEAR_NS
from monitor.store.reader import open_store
from monitor.store.tables import ESTIMATES
from monitor.store.writer import Entry
from monitor.watch.vigil import Vigil
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, a_gap, a_run, a_sample, a_store, an_event

SECOND_NS = 1_000_000_000
HAPPENS_AT = 400

maybe = st.none() | st.floats(-1e6, 1e6)
estimates = st.builds(
    Estimate,
    seq=st.integers(0, 2**40),
    t_ns=st.integers(0, 2**60),
    forecast=st.builds(Forecast, maybe, maybe, maybe, maybe, st.sampled_from([None, *NoForecast])),
    charge=st.builds(Charge, *[st.floats(0, 1e5)] * 4),
    siemens=maybe,
    siemens_at_start=maybe,
    siemens_per_minute=maybe,
    amps_expected=maybe,
    warming_share=maybe,
    celsius=maybe,
    in_contact=st.booleans(),
    siemens_at_25=maybe,
    warming_rise=maybe,
    heat=st.builds(Heat, st.sampled_from([None, "sleeve", "läd"]), maybe, maybe),
    extra_ohms=maybe,
    polarisation_volts=maybe,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


@pytest.fixture
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealing, "CHUNK_ROWS", 50)
    monkeypatch.setattr(sealing, "KEPT_ROWS", 100)


def estimate(seq: int, why: NoForecast | None = NoForecast.NO_RISE) -> Estimate:
    charge = Charge(seq / 1000, seq / 1000, seq / 1000, 0.99)
    return Estimate(seq, seq * SECOND_NS, Forecast(why=why), charge, siemens=0.8 + seq / 3000)


def at_1_hz(count: int) -> list[Entry]:
    """A sample and an estimate a second; one alarm in the middle, and a word that changes."""
    entries: list[Entry] = []
    for seq in range(count):
        sample = replace(a_sample(seq), t_ns=seq * SECOND_NS, utc_ns=BEGAN_UTC_NS + seq * SECOND_NS)
        entries += [
            (1, sample),
            (1, estimate(seq, NoForecast.VOLTS_CHANGED if seq == 203 else NoForecast.NO_RISE)),
        ]
        if seq == HAPPENS_AT:
            entries.append((1, replace(an_event(seq), t_ns=seq * SECOND_NS)))
    return entries


def record(path: Path, entries: list[Entry], batch: int = 20, end: bool = True) -> None:
    with a_store(path) as writer:
        assert a_run(writer) == 1
        for at in range(0, len(entries), batch):
            writer.write(entries[at : at + batch])
        if end:
            writer.end_run(1, None, "done")


def seqs(path: Path, from_s: float | None = None, to_s: float | None = None) -> list[int]:
    with open_store(path) as store:
        return [one.seq for one in store.run(1).estimates(from_s, to_s)]


def stored(seq: int) -> Estimate:
    """What a store makes of an estimate of `at_1_hz`."""
    why = NoForecast.VOLTS_CHANGED if seq == 203 else NoForecast.NO_RISE
    return ESTIMATES.value(ESTIMATES.cells(estimate(seq, why)))


@settings(max_examples=60)
@given(found=st.lists(estimates, min_size=1, max_size=40))
def test_whatever_is_packed_comes_back_to_the_bit(found: list[Estimate]) -> None:
    rows = [ESTIMATES.cells(one) for one in found]
    assert unpack_estimates(pack_estimates(rows), len(rows)) == rows
    assert all(ESTIMATES.value(row).seq == one.seq for row, one in zip(rows, found, strict=True))


def test_a_finished_run_has_one_for_five_polls_and_every_one_around_an_event(path: Path) -> None:
    record(path, at_1_hz(1000))
    near_s = NEAR_NS // SECOND_NS
    near = set(range(HAPPENS_AT - near_s, HAPPENS_AT + near_s + 1))
    found = seqs(path)
    assert near <= set(found)
    assert {203, 204} <= set(found), "a word that changes, and changes back"
    steps = [after - before for before, after in pairwise(found)]
    assert max(steps) == 5
    assert len(found) < len(near) + 1000 / 5 + 5
    assert found[-1] == 999
    with open_store(path) as store:
        run = store.run(1)
        assert list(run.estimates()) == [stored(seq) for seq in found]
        assert run.latest_estimate() == stored(999)
        assert run.summary().amp_hours == 0.999


def test_a_stretch_of_time_gives_its_own_estimates(path: Path) -> None:
    record(path, at_1_hz(1000))
    assert seqs(path, 395.0, 399.5) == [395, 396, 397, 398, 399]
    assert seqs(path, 998.5) == [999]
    assert seqs(path, 2000.0) == []


@pytest.mark.usefixtures("small_chunks")
def test_older_ones_are_sealed_while_the_run_goes_on_and_a_reader_misses_none(path: Path) -> None:
    entries = at_1_hz(600)
    with a_store(path) as writer:
        a_run(writer)
        for at in range(0, 1000, 20):
            writer.write(entries[at : at + 20])
        with open_store(path) as store:
            reading = store.run(1).estimates()
            found = [next(reading).seq]
            for at in range(1000, len(entries), 20):
                writer.write(entries[at : at + 20])
            # A batch whose fate was unknown is written again, long after it was sealed.
            writer.write(entries[:20])
            found += [one.seq for one in reading]
    assert found == sorted(set(found))
    assert set(range(HAPPENS_AT - 60, HAPPENS_AT + 61)) <= set(found)
    again = seqs(path)
    assert set(again) <= {*found, *range(500, 600)}
    assert again[-2:] == [598, 599]


def test_marks_prompts_and_gaps_are_events_too(path: Path) -> None:
    entries = [entry for entry in at_1_hz(2000) if not hasattr(entry[1], "alarm")]
    things: list[Mark | Prompt] = [Mark(1, 300 * SECOND_NS, 0)]
    things += [Prompt("hold-done", 900, 900 * SECOND_NS, "rinse")]
    entries[2 * 1500] = (1, Gap(1500, 1500 * SECOND_NS, BEGAN_UTC_NS, "no answer"))
    marked: list[Entry] = [(1, thing) for thing in things]
    record(path, [*entries, *marked], batch=5000)
    found = set(seqs(path))
    for at in (300, 900, 1500):
        assert set(range(at - 59, at + 60)) <= found
    assert not set(range(600, 700)) <= found


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE estimate_chunks SET rows = 1", "estimate chunks are never changed"),
        ("DELETE FROM estimate_chunks", "estimate chunks are never deleted"),
    ],
)
def test_sealed_estimates_cannot_be_changed_in_the_file(
    path: Path, statement: str, says: str
) -> None:
    record(path, at_1_hz(100))
    stranger = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match=says):
        stranger.execute(statement)
    stranger.close()


def test_estimates_that_were_tampered_with_are_found(path: Path) -> None:
    record(path, at_1_hz(100))
    stranger = sqlite3.connect(path)
    stranger.execute("DROP TRIGGER estimate_chunks_are_not_changed")
    other = pack_estimates([ESTIMATES.cells(estimate(seq, NoForecast.GAP)) for seq in range(20)])
    stranger.execute("UPDATE estimate_chunks SET rows = 20, packed = ?", (other,))
    stranger.execute(
        "CREATE TRIGGER estimate_chunks_are_not_changed BEFORE UPDATE ON estimate_chunks\n"
        "        BEGIN SELECT RAISE(ABORT, 'estimate chunks are never changed'); END"
    )
    stranger.commit()
    stranger.close()
    with open_store(path) as store:
        told = store.run(1).what_is_unsound()
    assert told == "run 1: the estimates from 0 on are not those that were sealed"


def test_rows_that_a_store_of_before_kept_are_sealed_with_the_next_chunk(path: Path) -> None:
    record(path, at_1_hz(100), end=False)
    with a_store(path) as writer:
        # As an older version left it: estimates of rows that are sealed already.
        writer._sealing.seal_chunk(1)
    connection = sqlite3.connect(path)
    kept = connection.execute("SELECT count(*) FROM estimates").fetchone()
    connection.close()
    assert kept == (1,)
    with a_store(path) as writer:
        writer.write(at_1_hz(103)[-6:])
        writer.end_run(1, None, "done")
    found = seqs(path)
    assert found == sorted(set(found))
    assert {99, 102} <= set(found)


@pytest.mark.parametrize(("poll_s", "count"), [(0.2, 6000), (1.0, 6000)])
def test_a_finished_run_is_small_with_its_estimates(path: Path, poll_s: float, count: int) -> None:
    empty = path.with_name("empty.db")
    a_store(empty).close()
    facts = RunFacts("bench-1", "scpi:/dev/x", 10.0, bath_litres=9.0, poll_s=poll_s)
    chance = random.Random(5)
    vigil, clock, last_s = Vigil(facts), HandClock(), -1.0
    with a_store(path, clock) as writer:
        run = writer.begin_run(facts, clock=clock, program="x").run
        entries: list[Entry] = []
        for seq in range(count):
            t_ns = round(seq * poll_s * 1e9) + chance.randrange(150_000)
            amps = round(5 + seq / count + chance.gauss(0, 0.02), 3)
            row: Sample | Gap = a_gap(seq) if seq == count // 2 else a_sample(seq, amps)
            row = replace(row, t_ns=t_ns, utc_ns=BEGAN_UTC_NS + t_ns)
            if isinstance(row, Sample):
                volts = round(9 + chance.gauss(0, 0.01), 3)
                row = replace(row, volts=volts, latency_us=chance.randrange(900, 1400))
            verdict = vigil.update(row)
            entries.append((run, row))
            if verdict.estimate.t_s - last_s >= 1.0 or verdict.events:
                entries.append((run, verdict.estimate))
                last_s = verdict.estimate.t_s
            entries += [(run, event) for event in verdict.events]
        for at in range(0, len(entries), 900):
            writer.write(entries[at : at + 900])
        writer.end_run(run, None, "done")
    size = (path.stat().st_size - empty.stat().st_size) / count
    assert size <= 25
