"""`check` as a command: one line a check, an exit code by the worst, limits in plain words."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.promises import Fault
from monitor.commands.main import run
from tests.drivers.fake_end import PtyEnd
from tests.drivers.fake_supply import FakeSupply


@pytest.fixture
def end(tmp_path: Path) -> Iterator[PtyEnd]:
    with PtyEnd(FakeSupply(volts="12.03", amps="5.01"), tmp_path / "port") as made:
        made.options = "?quiet_ms=5&timeout=0.1"
        yield made


@pytest.fixture
def bench(tmp_path: Path, end: PtyEnd) -> Path:
    file = tmp_path / "bench.toml"
    file.write_text(
        f'[supplies.bench-1]\naddress = "{end.address}"\nlimit_amps = 10\n'
        '[store]\nfile = "runs.db"\n',
        encoding="utf-8",
    )
    return file


def checked(capsys: pytest.CaptureFixture[str], *line: str | Path) -> tuple[int, dict[str, str]]:
    """The exit code, and each check's result; the worst where a check has several lines."""
    code = run(["check", *map(str, line), "--json"])
    results: dict[str, str] = {}
    for text in capsys.readouterr().out.splitlines():
        found = json.loads(text)
        assert found["kind"] == "check"
        if results.get(found["check"]) != "fail":
            results[found["check"]] = found["result"]
    return code, results


def test_a_bench_in_order_passes(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, results = checked(capsys, "--config", bench)
    assert code == 0
    assert "fail" not in results.values()
    wanted = "settings port permission lock reply decode limits clock disk store sound"
    assert set(wanted.split()) <= set(results)
    assert {"notices", "forward"} <= set(results)


def test_one_fault_is_one_failed_line(
    bench: Path, end: PtyEnd, capsys: pytest.CaptureFixture[str]
) -> None:
    end.behave(Fault.MUTE)
    code, results = checked(capsys, "--config", bench)
    assert code == 1
    assert [name for name, result in results.items() if result == "fail"] == ["reply"]
    end.behave(Fault.UNPLUGGED)
    code, results = checked(capsys, "--config", bench)
    assert [name for name, result in results.items() if result == "fail"] == ["port"]


def test_a_misspelt_setting_fails_and_the_machine_is_checked_all_the_same(
    bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench.write_text(bench.read_text().replace("limit_amps", "limt_amps"))
    code, results = checked(capsys, "--config", bench)
    assert code == 1
    assert [name for name, result in results.items() if result == "fail"] == ["settings"]
    assert results["disk"] == "pass"


def test_limits_are_told_in_plain_words(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--config", str(bench)]) == 0
    told = capsys.readouterr()
    assert "bench-1 cuts out at 10 A" in told.out
    assert "nothing failed" in told.err


def test_an_address_alone_can_be_checked(
    end: PtyEnd, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, results = checked(capsys, end.address, "--store", tmp_path / "runs.db")
    assert code == 0
    assert results["decode"] == "pass"
    assert "limits" not in results


@pytest.mark.parametrize(
    "line",
    [["scpi:/dev/null", "--config", "b.toml"], ["--config", "b.toml", "--description", "x"]],
)
def test_wrong_use_is_told(line: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", *line]) == 2
    assert "bathvigil:" in capsys.readouterr().err


def test_every_setting_is_explained(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--explain"]) == 0
    told = capsys.readouterr().out
    assert "[supplies.NAME]\n  address (must be there)" in told
    assert "  horizon_s (120 s)" in told
    assert run(["check", "--explain", "--json"]) == 0
    settings = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    limit = next(setting for setting in settings if setting["key"] == "limit_amps")
    assert (limit["table"], limit["unit"], limit["default"]) == ("[supplies.NAME]", "A", None)
