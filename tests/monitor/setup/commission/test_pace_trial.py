"""The rest that a unit needs between two frames, and how long it takes to answer, are measured."""

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from drivers.base.clock import SystemClock
from drivers.link.link import after
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import SerialSettings
from drivers.modbus.register_question import RegisterQuestion
from monitor.setup.commission.asking_registers import AskingRegisters
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.pace_trial import RESTS_MS, TRIALS, try_pace
from monitor.setup.commission.register_map import read_around
from tests.drivers.fake_end import PtyEnd
from tests.drivers.spoiling import Piece
from tests.monitor.setup.commission.ends import RegisterSupply

QUESTION = RegisterQuestion(1, 3, 0, 2)


@dataclass
class DeafSupply(RegisterSupply):
    """Hears nothing for a while after its own reply, as slow units do.

    Parameters
    ----------
    deaf_s
        From the end of the reply on.
    slow_s
        From the question to the reply.
    """

    deaf_s: float = 0.0
    slow_s: float = 0.001
    deaf_until: float = 0.0
    missed: int = 0
    holding: dict[int, int] = field(default_factory=lambda: {0: 1204, 1: 537})

    def receive(self, data: bytes) -> list[Piece]:
        """Take bytes as they come."""
        now = time.monotonic()
        if now < self.deaf_until:
            self.missed += 1
            return []
        pieces = [Piece(self.slow_s, piece.data) for piece in super().receive(data)]
        if pieces:
            self.deaf_until = now + self.slow_s + self.deaf_s
        return pieces


@contextmanager
def asked(supply: DeafSupply, folder: Path, timeout_s: float = 0.12) -> Iterator[AskingRegisters]:
    clock = SystemClock()
    with PtyEnd(supply, folder / "port") as end:
        link = SerialLink(str(end.path), SerialSettings(), clock)
        link.open(after(clock, 1.0))
        yield AskingRegisters(link, clock, "rtu", timeout_s, gap_s=0.004)
        link.close()


@pytest.mark.parametrize("deaf_ms", [12, 40])
def test_a_rest_is_proposed_that_is_longer_than_the_unit_is_deaf(
    deaf_ms: int, tmp_path: Path
) -> None:
    supply = DeafSupply(deaf_s=deaf_ms / 1000)
    with asked(supply, tmp_path) as asking:
        pace = try_pace(asking, QUESTION)
        assert deaf_ms <= pace.rest_ms <= 3 * deaf_ms + 20
        assert pace.talk["quiet_ms"] == pace.rest_ms
        assert f"{pace.rest_ms} ms are proposed" in pace.words
        supply.missed = 0
        for _ in range(20):
            assert asking.ask_after(QUESTION, pace.rest_ms / 1000, 0.12).is_answered
        assert supply.missed == 0


def test_a_unit_that_needs_no_rest_gets_none(tmp_path: Path) -> None:
    supply = DeafSupply()
    with asked(supply, tmp_path) as asking:
        pace = try_pace(asking, QUESTION)
    assert pace.rest_ms == 0
    assert pace.talk == {}
    assert "no rest between two frames" in pace.words
    assert len(supply.received) <= TRIALS + 6


def test_a_slow_unit_is_given_three_times_its_slowest_reply(tmp_path: Path) -> None:
    with asked(DeafSupply(slow_s=0.2), tmp_path, timeout_s=0.5) as asking:
        pace = try_pace(asking, QUESTION)
    within_s = pace.talk["answer_within_s"]
    assert isinstance(within_s, float)
    told_ms = re.match(r"replies take (\d+) ms \(99 of 100 at most (\d+) ms\)", pace.words)
    assert told_ms is not None
    usual_s, slowest_s = (int(ms) / 1000 for ms in told_ms.groups())
    assert 0.2 <= usual_s <= slowest_s
    assert 3 * usual_s <= within_s


def test_a_deaf_unit_is_asked_after_ever_longer_rests_until_it_hears(tmp_path: Path) -> None:
    """Each register around is asked for, though the usual rest here is 30 ms only."""
    supply = DeafSupply(deaf_s=0.06)
    supply.holding = {place: 100 + place for place in range(6)}
    with asked(supply, tmp_path, timeout_s=0.06) as asking:
        blocks = read_around(asking, 1, [1, 2], functions=(3,))
    assert blocks[0].values is not None
    assert supply.missed <= 2


def test_a_unit_that_was_never_heard_is_asked_once_only(tmp_path: Path) -> None:
    """Else looking for units that are not there would take for ever."""
    supply = DeafSupply(unit=9)
    with asked(supply, tmp_path, timeout_s=0.03) as asking:
        assert not asking.ask(QUESTION).is_answered
    assert len(supply.received) == 1


def test_one_that_misses_questions_whatever_the_rest_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    supply = DeafSupply(deaf_s=0.03)
    monkeypatch.setattr("monitor.setup.commission.pace_trial.RESTS_MS", RESTS_MS[:3])
    with (
        asked(supply, tmp_path, timeout_s=0.1) as asking,
        pytest.raises(NotCommissioned, match="misses questions even 10 ms after"),
    ):
        try_pace(asking, QUESTION)
