"""A recorder killed at random points, again and again: what its store still holds each time."""

import os
import random
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from monitor.base.errors import StoreError
from monitor.model.request import RequestKind
from monitor.model.sample import Gap, Sample
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from tests.whole.processes import simulator, start, wait_until

SETTINGS = """
[supplies.bench-1]
address = "{address}"
limit_amps = 40.0
poll_s = 0.05
timeout_s = 0.2

[no_data]
after_s = 1

[sound]
command = "true"

[store]
file = "runs.db"
"""


@dataclass(frozen=True, slots=True)
class Held:
    """What a store holds: rows, and the alarms that stand with their occurrence and state."""

    rows: tuple[Sample | Gap, ...]
    standing: tuple[tuple[str, int, str], ...]
    runs: int


def held(store: Path) -> Held:
    """What the store holds now."""
    with open_store(store) as opened:
        run = opened.run(1)
        standing = [(e.alarm, e.occurrence, e.state.value) for e in run.standing_alarms()]
        return Held(tuple(run.rows()), tuple(sorted(standing)), len(opened.runs()))


def kill_again_and_again(folder: Path, kills: int, seed: int) -> Iterator[list[str]]:
    """Kill a recorder so often; what was found wrong after each kill.

    In the second half the supply is mute: alarms stand, and some are acknowledged.
    """
    chance = random.Random(seed)
    store, config = folder / "runs.db", folder / "bench.toml"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, supply):
        config.write_text(SETTINGS.format(address=address))
        before: Held | None = None
        try:
            for number in range(kills):
                mute = number >= kills // 2
                if number == kills // 2:
                    os.kill(supply.pid, signal.SIGSTOP)
                known = 0 if before is None else len(before.rows)
                recorder = start("record", "--config", config, "--keep-trying")
                _wait_for_rows(store, known + (25 if number == kills // 2 else 2))
                if mute and chance.random() < 0.5:
                    _acknowledge(store)
                time.sleep(chance.uniform(0.0, 0.3))
                os.kill(recorder.pid, signal.SIGKILL)
                recorder.communicate()
                after = held(store)
                yield _wrong(before, after)
                before = after
        finally:
            os.kill(supply.pid, signal.SIGCONT)


def _wait_for_rows(store: Path, more_than: int) -> None:
    wait_until("rows", lambda: _rows(store) > more_than)


def _rows(store: Path) -> int:
    try:
        with open_store(store) as opened:
            summary = opened.run(1).summary()
            return summary.samples + summary.missing
    except StoreError:
        return 0


def _acknowledge(store: Path) -> None:
    with open_store(store) as opened:
        standing = opened.run(1).standing_alarms()
    for event in standing:
        detail = f"{event.alarm}#{event.occurrence}"
        RequestBox(store).ask(1, RequestKind.ACKNOWLEDGE, detail, "test")


def _wrong(before: Held | None, after: Held) -> list[str]:
    wrong = []
    seqs = [row.seq for row in after.rows]
    if seqs != list(range(len(seqs))):
        wrong.append(f"rows are lost or doubled: {len(seqs)} rows up to seq {seqs[-1]}")
    times = [row.t_ns for row in after.rows]
    if times != sorted(set(times)):
        wrong.append("times go back")
    if after.runs != 1:
        wrong.append(f"{after.runs} runs where one goes on")
    if before is None:
        return wrong
    if after.rows[: len(before.rows)] != before.rows:
        wrong.append("committed rows have changed")
    were = {(name, number): state for name, number, state in before.standing}
    for name, number, state in after.standing:
        was = were.get((name, number))
        if was == "acknowledged" and state == "unacknowledged":
            wrong.append(f"{name}#{number} lost its acknowledgement")
    names = {name for name, _, _ in after.standing}
    if not any(isinstance(row, Sample) for row in after.rows[len(before.rows) :]):
        # Nothing was answered since: what stood stands.
        gone = {name for name, _, _ in before.standing} - names
        if gone:
            wrong.append(f"alarms were forgotten: {gone}")
    return wrong
