"""A token is told to the server and to nobody else."""

import copy
import logging
import os
import pickle
import sys
import traceback
from pathlib import Path

import pytest

from monitor.base.errors import WrongUse
from monitor.base.secret import Secret, read_token
from monitor.forward.sink import ServerSink
from tests.monitor.forward.bench import TOKEN
from tests.servers.scripted import Answer, Cut, scripted


def token_file(folder: Path, text: str = TOKEN + "\n", mode: int = 0o600) -> Path:
    path = folder / "token"
    path.write_text(text, encoding="utf-8")
    path.chmod(mode)
    return path


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604, 0o660, 0o606, 0o610, 0o601, 0o777])
def test_a_token_that_others_can_read_is_refused_with_the_cure(tmp_path: Path, mode: int) -> None:
    path = token_file(tmp_path, mode=mode)
    with pytest.raises(WrongUse, match=f"run: chmod 600 {path}") as refused:
        read_token(path, None)
    assert TOKEN not in str(refused.value)
    path.chmod(0o600)
    assert read_token(path, None).reveal() == TOKEN


@pytest.mark.parametrize("mode", [0o600, 0o400])
def test_a_token_of_ones_own_is_taken(tmp_path: Path, mode: int) -> None:
    assert read_token(token_file(tmp_path, mode=mode), None).reveal() == TOKEN


def test_a_file_made_with_everything_allowed_is_refused(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        (tmp_path / "token").write_text(TOKEN)
    finally:
        os.umask(before)
    with pytest.raises(WrongUse, match="chmod 600"):
        read_token(tmp_path / "token", None)


def test_a_token_comes_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCH_TOKEN", f" {TOKEN}\n")
    assert read_token(None, "BENCH_TOKEN").reveal() == TOKEN
    monkeypatch.delenv("BENCH_TOKEN")
    with pytest.raises(WrongUse, match="no BENCH_TOKEN; set it"):
        read_token(None, "BENCH_TOKEN")


def test_no_token_at_all_is_an_empty_one() -> None:
    assert not read_token(None, None)


@pytest.mark.parametrize("text", ["", "  \n", f"{TOKEN}\nmore", f"{TOKEN}\u00e9", f"{TOKEN}\x00"])
def test_what_is_no_token_is_refused_without_repeating_it(tmp_path: Path, text: str) -> None:
    with pytest.raises(WrongUse) as refused:
        read_token(token_file(tmp_path, text), None)
    told = "".join(traceback.format_exception(refused.value))
    assert TOKEN not in told.replace(f"{tmp_path}", "")


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match=r"cannot be read.*check forward\.token_file"):
        read_token(tmp_path / "token", None)


def test_no_way_of_printing_shows_it() -> None:
    secret = Secret(TOKEN)
    shown = [str(secret), repr(secret), f"{secret:>10}", f"{secret!r}", str([secret, secret])]
    shown += [repr({"token": secret}), repr([secret])]
    assert all(TOKEN not in one for one in shown)
    assert all("***" in one for one in shown)
    for way in (pickle.dumps, copy.copy, copy.deepcopy):
        with pytest.raises(TypeError, match="not written"):
            way(secret)


def test_nothing_that_a_write_can_meet_shows_it(
    caplog: pytest.LogCaptureFixture,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("monitor.forward.sink.TIMEOUT_S", 0.2)
    caplog.set_level(logging.DEBUG)
    echo = f"no such token: {TOKEN}"
    script: list[Answer | Cut] = [
        Answer(status, echo, (("X-Influxdb-Error", echo),))
        for status in (200, 302, 400, 401, 403, 404, 413, 422, 429, 500, 503)
    ]
    count = len(script) + 3
    with scripted([*script, Cut.RESET, Cut.HANG, Cut.RESET_AFTER]) as server:
        sink = ServerSink(server.url, "shop", "benches", Secret(TOKEN))
        replies = [sink.write(["bath amps=1 5"]) for _ in range(count)]
        sink.close()
        assert server.authorizations == [f"Token {TOKEN}"] * count
    told = "".join(f"{reply} {reply.text}" for reply in replies)
    out = capsys.readouterr()
    assert "no such token: ***" in told
    assert TOKEN not in told + out.out + out.err + caplog.text + repr(vars(sink))
