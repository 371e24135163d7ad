"""`check --notices`: the real answer of every channel, and secrets that stay secret."""

from pathlib import Path

import pytest

from monitor.commands.main import run
from tests.monitor.recorder.notices.receivers import http, receiver

BENCH = """
[supplies.bench-1]
address = "scpi:tcp://127.0.0.1:9"
limit_amps = 10.0
[store]
file = "runs.db"
"""


def check(folder: Path, more: str) -> None:
    config = folder / "bench.toml"
    config.write_text(BENCH + more)
    run(["check", "--config", str(config), "--notices"])


def test_the_real_answers_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with receiver(http("200 OK", "taken")) as good, receiver(http("503 Busy", "later")) as bad:
        check(
            tmp_path,
            f'[notices.channels.office]\nwebhook = "{good.url}"\n'
            f'[notices.channels.phone]\nwebhook = "{bad.url}"\n',
        )
    told = capsys.readouterr().out
    assert "pass  notices     office: 200 taken" in told
    assert "fail  notices     phone: 503 later" in told
    assert "[notices.channels.phone]" in told
    assert "trial" in good.bodies[0]


def test_a_secret_that_others_can_read_is_refused_with_the_cure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    secret = tmp_path / "phone.secret"
    secret.write_text("json://127.0.0.1/canary-77\n")
    secret.chmod(0o644)
    check(tmp_path, '[notices.channels.phone]\nservice_file = "phone.secret"\n')
    told = capsys.readouterr()
    assert f"chmod 600 {secret}" in told.out
    assert "canary" not in told.out + told.err


def test_a_bench_that_tells_nobody_is_noted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    check(tmp_path, "")
    assert "note  notices" in capsys.readouterr().out


def test_without_settings_there_is_nothing_to_try(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "scpi:tcp://127.0.0.1:9", "--notices"]) == 2
    assert "--config" in capsys.readouterr().err
