"""The forwarder by hand: nothing lost, live points first, gently, and again after an outage."""

import random
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.forward.forwarder import LIVE_ROWS
from monitor.forward.reply import Meaning, Reply
from monitor.model.event import Mark
from monitor.store.requests import RequestBox
from monitor.store.writer import StoreWriter
from tests.clock import HandClock
from tests.monitor.forward.bench import (
    GONE,
    PLAN,
    TAKEN,
    MemorySink,
    a_forwarder,
    fill,
    points_in,
    state_of,
    steps,
    store_with,
    time_of,
)
from tests.monitor.store.bench import BEGAN_UTC_NS, POLL_NS, a_run, a_sample, a_store

GENTLY = PLAN.model_copy(update={"back_fill_points_per_s": 100.0})


@pytest.fixture(name="path")
def a_path(tmp_path: Path) -> Path:
    return tmp_path / "a.db"


def test_all_rows_of_every_kind_arrive_once_in_batches(path: Path) -> None:
    store_with(path, 2500)
    sink, clock = MemorySink(), HandClock()
    forwarder, said = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    assert len(sink.taken) == len(set(sink.taken)) == points_in(2500)
    assert sink.readings() == [BEGAN_UTC_NS + seq * POLL_NS for seq in range(2500)]
    assert max(map(len, sink.batches)) == 1000
    state = state_of(path)
    assert (state.behind, state.sent, state.left_out) == (0, points_in(2500), 147)
    assert said == []
    forwarder.close()


def test_a_run_that_goes_on_is_followed(path: Path) -> None:
    sink, clock = MemorySink(), HandClock()
    with a_store(path) as writer:
        run = a_run(writer)
        forwarder, _ = a_forwarder(path, sink, clock)
        for first in range(0, 300, 5):
            fill(writer, run, first, 5)
            clock.pass_s(1.0)
            steps(forwarder, clock, 3)
            assert len(sink.readings()) == first + 5
        writer.end_run(run, None, "ended")
        steps(forwarder, clock, 5)
        forwarder.close()
    assert len(sink.taken) == len(set(sink.taken)) == points_in(300) - 2


def test_a_text_added_to_a_mark_after_the_run_arrives(path: Path) -> None:
    run = store_with(path, 10)
    sink, clock = MemorySink(), HandClock()
    forwarder, _ = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    RequestBox(path, clock).add_mark_text(run, 1, "haze on the left")
    clock.pass_s(1.0)
    steps(forwarder, clock, 5)
    marks = [line for line in sink.taken if line.startswith("bath_mark")]
    assert [time_of(line) for line in marks] == [BEGAN_UTC_NS + 7] * 2
    assert 'text="say \\"hi\\", ok; haze on the left"' in marks[1]
    forwarder.close()


def test_live_points_go_before_what_lies_back(path: Path) -> None:
    """Three days at a poll a second lie back; the newest row is there within two seconds."""
    sink, clock = MemorySink(), HandClock()
    with a_store(path) as writer:
        run, old = a_run(writer), 20 * LIVE_ROWS
        for first in range(0, old, 2000):
            writer.write([(run, a_sample(seq)) for seq in range(first, first + 2000)])
        forwarder, _ = a_forwarder(path, sink, clock, GENTLY)
        for seq in range(old, old + 20):
            writer.write([(run, a_sample(seq))])
            written_s = clock.now_ns / 1e9
            while clock.now_ns / 1e9 < written_s + 2:
                clock.pass_s(forwarder.step())
            assert BEGAN_UTC_NS + seq * POLL_NS in sink.readings()
        live = old + 20 - LIVE_ROWS
        assert len(sink.readings()) < live
        steps(forwarder, clock)
        forwarder.close()
    assert sorted(sink.readings()) == [BEGAN_UTC_NS + seq * POLL_NS for seq in range(old + 20)]


def test_what_lies_back_is_sent_no_faster_than_asked(path: Path) -> None:
    store_with(path, 5000)
    sink, clock = MemorySink(), HandClock()
    forwarder, _ = a_forwarder(path, sink, clock, GENTLY)
    began_ns = clock.now_ns
    steps(forwarder, clock)
    took_s = (clock.now_ns - began_ns) / 1e9
    assert 0.8 * points_in(5000) / 100 < took_s < 1.3 * points_in(5000) / 100
    forwarder.close()


def test_after_an_outage_the_last_seconds_before_it_are_sent_again(path: Path) -> None:
    """A server that is killed has lost up to 13 s of what it took (measured on two versions)."""
    sink, clock = MemorySink(), HandClock()
    with a_store(path) as writer:
        run = a_run(writer)
        forwarder, said = a_forwarder(path, sink, clock)
        asked_ns: list[int] = []
        sink.before = lambda: asked_ns.append(clock.now_ns)
        for seq in range(60):
            writer.write([(run, a_sample(seq))])
            clock.pass_s(1.0)
            steps(forwarder, clock, 5)
        before = len(sink.taken)
        in_danger = sum(at_ns >= asked_ns[-1] - 15 * 10**9 for at_ns in asked_ns)
        writer.write([(run, a_sample(60))])
        clock.pass_s(1.0)
        sink.script = [GONE, GONE]
        steps(forwarder, clock)
        forwarder.close()
    again = [(time - BEGAN_UTC_NS) // POLL_NS for time in sink.readings()[before:]]
    assert set(again) == {*range(60 - in_danger, 61)}
    assert 8 <= in_danger <= 15
    assert said == ["forwarding: no connection", "forwarding goes on"]


def test_a_server_that_was_started_anew_between_two_writes_gets_the_last_seconds_again(
    path: Path,
) -> None:
    sink, clock = MemorySink(), HandClock()
    with a_store(path) as writer:
        run = a_run(writer)
        forwarder, _ = a_forwarder(path, sink, clock)
        for seq in range(5):
            writer.write([(run, a_sample(seq))])
            clock.pass_s(1.0)
            steps(forwarder, clock, 5)
        writer.write([(run, a_sample(5))])
        clock.pass_s(1.0)
        sink.script = [replace(TAKEN, is_new_connection=True)]
        steps(forwarder, clock, 10)
        forwarder.close()
    assert len(sink.readings()) == 11


def test_a_forwarder_that_was_killed_goes_on_where_the_server_has_everything(path: Path) -> None:
    """Killed at every write, before and after the server took it: the union is complete."""

    class Killed(BaseException):
        pass

    class DeadlySink(MemorySink):
        def write(self, lines: Sequence[str]) -> Reply:
            if chance.random() < 0.5:
                self.taken += lines
            raise Killed

    store_with(path, 3000)
    chance, clock, taken = random.Random(7), HandClock(), set[str]()
    for turn in range(40):
        sink = MemorySink() if turn % 4 == 3 else DeadlySink()
        forwarder, _ = a_forwarder(path, sink, clock)
        try:
            for _ in range(4):
                clock.pass_s(forwarder.step() + 0.001)
        except Killed:
            pass
        taken |= set(sink.taken)
        forwarder.close()
        if forwarder.is_all_sent:
            break
    assert len(taken) == points_in(3000)
    assert state_of(path).behind == 0


def test_a_server_that_fails_is_asked_ever_less_often(path: Path) -> None:
    store_with(path, 10)
    sink, clock = MemorySink([GONE] * 10_000), HandClock()
    forwarder, said = a_forwarder(path, sink, clock)
    began_ns = clock.now_ns
    while clock.now_ns < began_ns + 3600 * 10**9:
        clock.pass_s(forwarder.step() + 0.001)
    assert 45 < 10_000 - len(sink.script) < 70
    assert said == ["forwarding: no connection"]
    sink.script = []
    steps(forwarder, clock)
    assert len(sink.taken) == points_in(10)
    forwarder.close()


def test_the_rest_that_a_server_asks_for_is_kept(path: Path) -> None:
    store_with(path, 10)
    sink = MemorySink([Reply(Meaning.BUSY, 429, "slow down", 120.0)])
    clock = HandClock()
    forwarder, said = a_forwarder(path, sink, clock)
    asked_ns: list[int] = []
    sink.before = lambda: asked_ns.append(clock.now_ns)
    steps(forwarder, clock)
    assert asked_ns[1] - asked_ns[0] >= 120 * 10**9
    assert said[0] == "forwarding: 429 slow down; it asks for 120 s of rest"
    forwarder.close()


def test_a_store_that_was_set_aside_is_left_and_its_successor_followed(
    path: Path, tmp_path: Path
) -> None:
    store_with(path, 100)
    sink, clock = MemorySink(), HandClock()
    forwarder, said = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    path.rename(tmp_path / "a.damaged.db")
    for _ in range(5):
        clock.pass_s(forwarder.step())
    assert "was deleted, moved or replaced" in said[0] or "no such store" in said[0]
    store_with(path, 50)
    forwarder.is_all_sent = False
    steps(forwarder, clock)
    assert len(sink.taken) == points_in(100) + points_in(50)
    forwarder.close()


def test_a_store_that_another_program_holds_is_waited_for(path: Path) -> None:
    store_with(path, 100)
    sink, clock = MemorySink(), HandClock()
    forwarder, said = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    with StoreWriter(path, clock=clock) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0))])
        forwarder.is_all_sent = False
        with closing(sqlite3.connect(path, isolation_level=None)) as stranger:
            stranger.execute("BEGIN IMMEDIATE")
            clock.pass_s(forwarder.step() + 1)
            clock.pass_s(forwarder.step() + 1)
        assert any("another program has locked it" in one for one in said)
        steps(forwarder, clock)
        forwarder.close()
    assert len(sink.taken) >= points_in(100) + 1


def test_the_store_stands_alone_once_all_is_sent(path: Path) -> None:
    store_with(path, 100)
    sink, clock = MemorySink(), HandClock()
    forwarder, _ = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    wal = path.with_name(path.name + "-wal")
    assert not wal.exists() or wal.stat().st_size == 0
    forwarder.close()


def test_old_runs_are_no_burden(path: Path) -> None:
    with a_store(path) as writer:
        for _ in range(100):
            run = a_run(writer)
            writer.write([(run, a_sample(0)), (run, Mark(1, 7, BEGAN_UTC_NS, "x"))])
            writer.end_run(run, None, "ended")
    sink, clock = MemorySink(), HandClock()
    forwarder, _ = a_forwarder(path, sink, clock)
    steps(forwarder, clock)
    assert len(sink.taken) == 200
    assert forwarder.step() > 0.3
    forwarder.close()
