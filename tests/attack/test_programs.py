"""Programs for sound and notices that hang end with all that they started, and get no token."""

import os
import sys
import time
from pathlib import Path

import pytest

from monitor.base.user_program import run_program
from monitor.commands.record import _forget_token
from monitor.recorder.sound.players import CommandPlayer, SoundFailed

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="process groups of POSIX")


def is_gone(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return True
    return state == "Z"


def wait_until_gone(pid: int) -> None:
    for _ in range(500):
        if is_gone(pid):
            return
        time.sleep(0.02)
    raise AssertionError(f"process {pid} is left behind")


def hanging(folder: Path) -> list[str]:
    """A program that starts another one, which notes its number, and waits for it."""
    script = f"sleep 600 & echo $! > {folder / 'pid'}; wait"
    return ["sh", "-c", script]


def test_a_program_that_hangs_ends_with_all_that_it_started(tmp_path: Path) -> None:
    code, _, why = run_program(hanging(tmp_path), "", 1.0)
    assert (code, why) == (None, "no answer within 1 s")
    wait_until_gone(int((tmp_path / "pid").read_text()))


def test_a_sound_that_hangs_ends_with_all_that_it_started(tmp_path: Path) -> None:
    horn = tmp_path / "horn"
    horn.write_text("#!/bin/sh\n" + hanging(tmp_path)[2] + "\n")
    horn.chmod(0o700)
    with pytest.raises(SoundFailed, match="not finished after 1 s"):
        CommandPlayer(str(horn)).play("high", 1.0)
    wait_until_gone(int((tmp_path / "pid").read_text()))


def test_a_program_that_leaves_a_child_with_its_pipes_holds_nobody(tmp_path: Path) -> None:
    code, _, why = run_program(["sh", "-c", "sleep 600 & exit 0"], "", 1.0)
    assert (code, why) == (None, "no answer within 1 s")


def test_a_program_that_prints_without_end_costs_no_memory_of_ours() -> None:
    code, out, _ = run_program(["sh", "-c", "yes | head -c 30000000"], "", 20.0)
    assert code == 0
    assert len(out) < 100_000


def test_the_token_is_not_in_their_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config = tmp_path / "bench.toml"
    config.write_text(
        '[supplies.bench-1]\naddress = "scpi:/dev/x"\nlimit_amps = 10\n'
        '[forward]\nurl = "http://127.0.0.1:9"\nbench = "x"\nbucket = "b"\n'
        'token_env = "BENCH_TOKEN"\n'
    )
    monkeypatch.setenv("BENCH_TOKEN", "canary")
    _forget_token(config)
    assert "canary" not in run_program(["env"], "", 20.0)[1]
    assert "BENCH_TOKEN" not in os.environ
