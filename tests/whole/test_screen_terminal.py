"""The screens on a real terminal: tmux drives `watch` from the job card to the end of the run."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.model.card import JobCard, Way
from monitor.model.start_check import StartCheck
from monitor.recorder.lock import holder
from monitor.store.reader import open_store
from monitor.store.requests import RequestBox
from tests.whole.processes import command_line, simulator, wait_until
from tests.whole.terminal import Tmux
from tests.whole.tools import needs_tmux

pytestmark = needs_tmux

MARKS = 100
ESCAPE = re.compile(r"\x1b")


@pytest.fixture
def tmux(tmp_path: Path) -> Iterator[Tmux]:
    terminal = Tmux(tmp_path)
    yield terminal
    terminal.run("kill-server")


def end_recorder(store: Path) -> None:
    pid = holder(store)
    if pid is not None:
        os.kill(pid, signal.SIGTERM)
        wait_until("the recorder's end", lambda: holder(store) is None)


def test_a_run_from_the_job_card_to_its_end_with_plain_keys(tmux: Tmux, tmp_path: Path) -> None:
    store = tmp_path / "bathvigil.db"
    with simulator("tank-warms-to-trip", "scpi-tcp", 20.0) as (address, _):
        tmux.start(
            "watch", address, "--limit-amps", "40", "--name", "bench-1", "--bath", "north tank",
            "--clock-speed", "20", "--store", store,
        )  # fmt: skip
        try:
            # Only now are its answers there; a key before that is passed over.
            card = tmux.shows("> bath            north tank")
            assert "JOB CARD" in card
            assert "hexavalent" in card
            tmux.press("Enter", "Enter", "Space", "Down")
            tmux.type("bell")
            tmux.type("90 cm2")
            # Chromium, operator, reference, the way, six checks, sound, keep.
            tmux.press(*["Enter"] * 12)
            tmux.shows("of the limit")
            tmux.press("m")
            tmux.shows("the recorder: mark: mark 1")
            rising = tmux.shows("RISING")
            assert ESCAPE.search(rising) is None
            tmux.run("send-keys", "-l", "m" * MARKS)
            tmux.press("Space")
            tmux.shows("acknowledged")
            tmux.shows("CUT OUT")
            tmux.press("e", "m")
            assert holder(store) is not None
            tmux.press("e")
            tmux.shows("END THE RUN")
            tmux.press("y")
            tmux.shows("FINISHED")
            tmux.press("q")
            wait_until("the screen's end", lambda: "FINISHED" not in tmux.text)
        finally:
            end_recorder(store)
    with open_store(store) as opened:
        run = opened.run(1)
        assert run.card() == JobCard(
            "north tank", "strip", Way.TANK, "bell", 0.9, checked=" ".join(StartCheck)
        )
        marks, rows = run.marks(), list(run.rows())
        assert [mark.number for mark in marks] == list(
            range(1, MARKS + 3)
        )  # and one before, one after
        assert [mark.t_ns for mark in marks] == sorted(mark.t_ns for mark in marks)
        assert any(mark.t_ns % 1_000_000 for mark in marks), "told to the second only"
    RequestBox(store).add_mark_text(1, 50, "swab flushed")
    with open_store(store) as opened:
        run = opened.run(1)
        assert run.marks()[49].text == "swab flushed"
        assert list(run.rows()) == rows


@pytest.mark.parametrize("how", [signal.SIGSTOP, signal.SIGKILL], ids=["stopped", "killed"])
def test_no_old_digit_stays_when_the_recorder_stands_still(
    tmux: Tmux, tmp_path: Path, how: signal.Signals
) -> None:
    store = tmp_path / "bathvigil.db"
    with simulator("quiet-strip", "scpi-tcp", 20.0) as (address, _):
        tmux.start(
            "watch", address, "--limit-amps", "10", "--clock-speed", "20", "--no-card",
            "--store", store,
        )  # fmt: skip
        pid: int | None = None
        try:
            tmux.shows("STEADY: no trip")
            assert "of the limit" in tmux.text
            pid = holder(store)
            assert pid is not None
            os.kill(pid, how)
            tmux.shows("RECORDER STOPPED")
            # The terminal may be looked at between two rows of one picture.
            gone = tmux.shows("amps not known")
            assert "of the limit" not in gone
        finally:
            if pid is not None and how is signal.SIGSTOP:
                os.kill(pid, signal.SIGCONT)
            end_recorder(store)


def test_no_old_digit_stays_when_the_link_freezes_and_the_numeric_pad_alone_is_enough(
    tmux: Tmux, tmp_path: Path
) -> None:
    store = tmp_path / "bathvigil.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, supply):
        tmux.start("watch", address, "--limit-amps", "10", "--no-card", "--store", store)
        try:
            tmux.shows("of the limit")
            supply.send_signal(signal.SIGSTOP)
            tmux.shows("NO DATA")
            gone = tmux.shows("amps not known")
            assert "of the limit" not in gone
            tmux.shows("acknowledge no-data")
            supply.send_signal(signal.SIGCONT)
            tmux.shows("of the limit")
            tmux.press("0")
            tmux.shows("the recorder: acknowledge no-data")
            tmux.press("*")
            tmux.shows("the recorder: mark: mark 1")
            tmux.press("/")
            tmux.shows("press 1 within 5 s to END THE RUN")
            tmux.press("1")
            tmux.shows("FINISHED")
        finally:
            supply.send_signal(signal.SIGCONT)
            end_recorder(store)


def test_the_list_opens_without_a_number(tmux: Tmux, tmp_path: Path) -> None:
    store = tmp_path / "bathvigil.db"
    with simulator("quiet-strip", "scpi-tcp", 50.0) as (address, _):
        subprocess.run(
            command_line(
                "record", address, "--limit-amps", "10", "--clock-speed", "50", "--for-s", "60",
                "--store", store,
            ),
            check=True,
            capture_output=True,
            timeout=60,
        )  # fmt: skip
    tmux.start("review", "--store", store)
    tmux.shows("1 run, the newest first")
    tmux.press("Enter")
    tmux.shows("FINISHED")
    tmux.press("q")
    tmux.shows("the newest first")
    assert sys.platform != "win32"
