"""`bathvigil plan`: what it takes, what it refuses, what it prints."""

import json
from pathlib import Path

import pytest

from tests.monitor.baths.test_usual_draw import jobs
from tests.whole.processes import in_process

JOB = (
    "--bath", "north tank", "--step", "strip", "--way", "tank", "--part", "bell",
    "--area", "1.6 dm2", "--chromium", "0.3 um", "--celsius", "25",
)  # fmt: skip
BENCH = """
[supplies.bench-1]
address = "scpi:tcp://127.0.0.1:5025"
limit_amps = 10.0
bath = "north tank"
[supplies.bench-2]
address = "scpi:tcp://127.0.0.1:5026"
limit_amps = 5.0
[baths."north tank"]
litres = 9.0
"""


def test_a_plan_by_like_jobs(tmp_path: Path) -> None:
    store, config = tmp_path / "a.db", tmp_path / "bench.toml"
    jobs(store, 1.0, 1.1, 1.2)
    config.write_text(BENCH, encoding="utf-8")
    line = ("plan", "--config", config, "--name", "bench-1", *JOB, "--store", store)
    told = in_process(*line)
    assert told.returncode == 0, told.stderr
    assert told.stdout.startswith("Set 7 V: no cut-out is likely.\nAmps after switching on: 4.95")
    assert "no interlock" in told.stdout
    fact = json.loads(in_process(*line, "--json").stdout)
    assert fact["kind"] == "plan"
    assert fact["asked"]["amps"]["middle"] == pytest.approx(4.95, rel=0.01)
    assert fact["chosen"] is None
    assert fact["message"] == "Set 7 V: no cut-out is likely."


def test_without_a_store_it_plans_by_the_card_alone(tmp_path: Path) -> None:
    told = in_process("plan", "--limit-amps", "10", *JOB, "--store", tmp_path / "none.db")
    assert told.returncode == 0, told.stderr
    assert told.stdout.startswith("The amps cannot be told before")
    assert not (tmp_path / "none.db").exists()


@pytest.mark.parametrize(
    ("line", "cure"),
    [
        ((), "Give --config bench.toml, or --limit-amps"),
        (("--config", "bench.toml"), "Give --name with one of: bench-1, bench-2"),
        (("--config", "bench.toml", "--limit-amps", "10"), "come from bench.toml"),
        (("--limit-amps", "10", "--step", "polish"), "this bench has clean, strip"),
        (("--limit-amps", "10", "--area", "big"), "big"),
        (("--limit-amps", "10", "--volts", "nan"), "--volts"),
    ],
)
def test_wrong_use_is_one_line_with_the_cure(
    line: tuple[str, ...], cure: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    told = in_process("plan", *line, "--store", tmp_path / "none.db")
    assert told.returncode == 2
    assert cure in told.stderr
    assert len(told.stderr.splitlines()) == 1
