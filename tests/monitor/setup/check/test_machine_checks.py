"""Each fault of the machine fails its own line, and no other."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor.forward.process import forwarder_lock
from monitor.recorder.lock import store_lock
from monitor.settings import Bench, load_bench
from monitor.setup.check.finding import Finding, Result, worst
from monitor.setup.check.machine import ThisMachine
from monitor.setup.check.machine_checks import MACHINE_CHECKS, Place
from monitor.store.forward_ledger import ForwardLedger
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import a_run, a_sample, a_store

BENCH = '[supplies.bench-1]\naddress = "scpi:/dev/ttyUSB0"\nlimit_amps = 10\npoll_s = 0.1\n'


@dataclass
class FakeMachine:
    """A machine on which all is well, until a test says otherwise."""

    utc: int = 1_772_625_600 * 10**9  # 2026-03-04
    free: int | OSError = 10**9
    programs: frozenset[str] = frozenset({"aplay"})
    answers: dict[str, str] = field(default_factory=lambda: {"timedatectl": "yes"})

    def utc_ns(self) -> int:
        return self.utc

    def free_bytes(self, folder: Path) -> int:
        if isinstance(self.free, OSError):
            raise self.free
        return self.free

    def has_program(self, name: str) -> bool:
        return name in self.programs

    def says(self, line: Sequence[str]) -> str | None:
        return self.answers.get(line[0])


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "runs.db"
    StoreWriter(path).close()
    return path


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    file = tmp_path / "bench.toml"
    file.write_text(BENCH, encoding="utf-8")
    return load_bench(file)


def findings(place: Place) -> dict[str, Finding]:
    found = [check(place) for check in MACHINE_CHECKS]
    assert len({finding.check for finding in found}) == len(found)
    return {finding.check: finding for finding in found}


def failed(place: Place) -> list[str]:
    found = findings(place)
    return [name for name, finding in found.items() if finding.result is Result.FAIL]


def test_a_sound_machine_passes(store: Path, bench: Bench) -> None:
    found = findings(Place(FakeMachine(), store, bench))
    results = {name: finding.result for name, finding in found.items()}
    assert results.pop("notices") is results.pop("forward") is Result.NOTE
    assert set(results.values()) == {Result.PASS}
    assert worst(list(found.values())) == 0
    assert "set by the network" in found["clock"].words


@pytest.mark.parametrize("utc_s", [0, 946_684_800, 5_000_000_000])
def test_a_date_that_cannot_be_fails_the_clock(store: Path, utc_s: int) -> None:
    place = Place(FakeMachine(utc=utc_s * 10**9), store, None)
    assert failed(place) == ["clock"]
    assert "date -s" in str(findings(place)["clock"].fix)


def test_a_clock_that_nothing_sets_is_a_note(store: Path) -> None:
    place = Place(FakeMachine(answers={"timedatectl": "no"}), store, None)
    assert failed(place) == []
    assert findings(place)["clock"].result is Result.NOTE


def test_without_systemd_the_clock_passes(store: Path) -> None:
    assert findings(Place(FakeMachine(answers={}), store, None))["clock"].result is Result.PASS


def test_a_full_disk_fails_the_disk_and_says_what_a_day_needs(store: Path, bench: Bench) -> None:
    place = Place(FakeMachine(free=5 * 10**6), store, bench)
    assert failed(place) == ["disk"]
    # 864,000 readings of 150 bytes
    assert "5 MB free" in findings(place)["disk"].words
    assert "a day needs about 130 MB" in findings(place)["disk"].words


def test_a_disk_that_does_not_answer_fails_the_disk(store: Path) -> None:
    assert failed(Place(FakeMachine(free=OSError(5, "I/O error")), store, None)) == ["disk"]


@pytest.fixture
def forwarding(tmp_path: Path) -> Bench:
    file = tmp_path / "bench.toml"
    file.write_text(
        f'{BENCH}[forward]\nurl = "http://127.0.0.1:8428"\nbucket = "benches"\n'
        'site = "yard"\nbench = "a"\n',
        encoding="utf-8",
    )
    return load_bench(file)


def test_a_copy_that_was_never_sent_is_a_note(store: Path, forwarding: Bench) -> None:
    place = Place(FakeMachine(), store, forwarding)
    assert findings(place)["forward"].result is Result.NOTE


def test_a_server_that_refuses_fails_the_forward_line_in_its_words(
    store: Path, forwarding: Bench
) -> None:
    place = Place(FakeMachine(), store, forwarding)
    other = ForwardLedger(store, "http://10.0.0.7:8428 org= bucket=benches")
    other.note_trouble("no connection", 1_772_625_600 * 10**9)
    other.close()
    assert failed(place) == [], "a server of before"
    ledger = ForwardLedger(store, "http://127.0.0.1:8428 org= bucket=benches")
    ledger.follow_runs()
    assert failed(place) == []
    ledger.note_trouble("401 unauthorized", 1_772_625_600 * 10**9)
    ledger.close()
    assert failed(place) == ["forward"]
    assert "401 unauthorized" in findings(place)["forward"].words


def test_a_recorder_without_its_forwarder_fails_the_forward_line(
    store: Path, forwarding: Bench
) -> None:
    place = Place(FakeMachine(), store, forwarding)
    with store_lock(store):
        assert failed(place) == ["forward"]
        assert "no process copies to the server" in findings(place)["forward"].words
        with forwarder_lock(store):
            assert failed(place) == []
    assert failed(place) == []


def test_a_damaged_store_fails_the_store(store: Path) -> None:
    data = bytearray(store.read_bytes())
    data[100:4000] = b"\xff" * 3900
    store.write_bytes(data)
    assert failed(Place(FakeMachine(), store, None)) == ["store"]


def test_rows_that_were_changed_fail_the_store(store: Path) -> None:
    with a_store(store) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(seq)) for seq in range(100)])
        writer.end_run(run, None, "done")
    place = Place(FakeMachine(), store, None)
    assert findings(place)["store"].words.endswith("holds 1 runs, all as they were recorded")
    stranger = sqlite3.connect(store)
    (trigger,) = stranger.execute(
        "SELECT sql FROM sqlite_schema WHERE name = 'chunks_are_not_changed'"
    ).fetchone()
    stranger.execute("DROP TRIGGER chunks_are_not_changed")
    stranger.execute("UPDATE chunks SET amps_packed = volts_packed")
    stranger.execute(trigger)
    stranger.commit()
    stranger.close()
    assert failed(place) == ["store"]
    assert "not those that were recorded" in findings(place)["store"].words


def test_another_programs_file_fails_the_store(tmp_path: Path) -> None:
    file = tmp_path / "letter.txt"
    file.write_text("Dear Sir or Madam, " * 100)
    assert failed(Place(FakeMachine(), file, None)) == ["store"]


def test_a_store_that_is_not_there_yet_passes(tmp_path: Path) -> None:
    found = findings(Place(FakeMachine(), tmp_path / "new" / "runs.db", None))["store"]
    assert found.result is Result.PASS
    assert "will be made" in found.words
    assert not (tmp_path / "new").exists(), "looking makes nothing"


def test_without_a_player_the_bell_is_a_note(store: Path) -> None:
    found = findings(Place(FakeMachine(programs=frozenset()), store, None))["sound"]
    assert found.result is Result.NOTE
    assert "bell" in found.words


def test_this_machine_answers(tmp_path: Path) -> None:
    machine = ThisMachine()
    assert machine.utc_ns() > 0
    assert machine.free_bytes(tmp_path) > 0
    assert machine.has_program("sh")
    assert machine.says(["echo", "yes"]) == "yes"
    assert machine.says(["false"]) is None
    assert machine.says(["no-such-program"]) is None


@pytest.mark.parametrize(
    ("command", "result"), [("horn --loud", Result.PASS), ("hron --loud", Result.FAIL)]
)
def test_the_shops_own_sound_command_is_what_is_looked_for(
    store: Path, tmp_path: Path, command: str, result: Result
) -> None:
    file = tmp_path / "bench.toml"
    file.write_text(f'{BENCH}\n[sound]\ncommand = "{command}"\n', encoding="utf-8")
    machine = FakeMachine(programs=frozenset({"horn", "aplay"}))
    found = findings(Place(machine, store, load_bench(file)))["sound"]
    assert found.result is result
    assert command.split()[0] in found.words
