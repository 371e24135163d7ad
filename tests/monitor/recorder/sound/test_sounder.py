"""Sound on alarms, again until acknowledged, and the truth when there is none."""

import sys
import threading
from pathlib import Path

import pytest

from monitor.base.errors import WrongUse
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.event import Prompt, PromptName
from monitor.recorder.sound.players import CommandPlayer, SoundFailed, TonePlayer, player_for
from monitor.recorder.sound.sounder import Sounder, SoundState


class HeardPlayer:
    """Keeps what was played; the test waits for it."""

    name = "a test"

    def __init__(self) -> None:
        self.played: list[str] = []
        self.fails = self.breaks = False
        self.gate = threading.Semaphore(0)

    def play(self, sound: str, timeout_s: float) -> str:
        self.played.append(sound)
        self.gate.release()
        if self.breaks:
            raise ZeroDivisionError("of ours")
        if self.fails:
            raise SoundFailed("no loudspeaker")
        return self.name

    def wait_for(self, count: int) -> None:
        for _ in range(count):
            assert self.gate.acquire(timeout=10)


class PatientClock:
    """Waits only as long as the test wants: until it is woken, or for one permitted repeat."""

    def __init__(self) -> None:
        self.repeats = threading.Semaphore(0)

    def monotonic_ns(self) -> int:
        return 0

    def utc_ns(self) -> int:
        return 0

    def wait(self, seconds: float, until: threading.Event | None = None) -> bool:
        assert until is not None
        while not until.wait(0.002):
            if self.repeats.acquire(blocking=False):
                return False
        return True


def change(alarm: str, priority: Priority, state: State) -> AlarmEvent:
    return AlarmEvent(alarm, 1, Change.RAISED, state, priority, 0, 0, "words")


def test_a_raise_sounds_and_repeats_until_it_is_acknowledged() -> None:
    player, clock = HeardPlayer(), PatientClock()
    sounder = Sounder(player, clock, lambda state: None)
    sounder.start()
    sounder.take(1, change("tripped", Priority.CRITICAL, State.UNACKNOWLEDGED))
    player.wait_for(1)
    clock.repeats.release()
    player.wait_for(1)
    sounder.take(1, change("tripped", Priority.CRITICAL, State.ACKNOWLEDGED))
    sounder.close()
    assert player.played[:2] == [Priority.CRITICAL, Priority.CRITICAL]


def test_the_worst_of_several_is_heard() -> None:
    player, clock = HeardPlayer(), PatientClock()
    sounder = Sounder(player, clock, lambda state: None)
    sounder.take(1, change("current-limited", Priority.MEDIUM, State.UNACKNOWLEDGED))
    sounder.take(2, change("no-data", Priority.CRITICAL, State.RETURNED_UNACKNOWLEDGED))
    sounder.start()
    player.wait_for(1)
    sounder.close()
    assert player.played[0] is Priority.CRITICAL


def test_a_low_alarm_is_heard_once_and_never_again() -> None:
    player, clock = HeardPlayer(), PatientClock()
    sounder = Sounder(player, clock, lambda state: None)
    sounder.start()
    sounder.take(1, change("forward-behind", Priority.LOW, State.UNACKNOWLEDGED))
    player.wait_for(1)
    for _ in range(3):
        clock.repeats.release()
    sounder.take(1, change("tripped", Priority.CRITICAL, State.UNACKNOWLEDGED))
    player.wait_for(1)
    sounder.close()
    assert player.played[:2] == [Priority.LOW, Priority.CRITICAL]
    assert Priority.LOW not in player.played[1:]


def test_a_prompt_that_asks_for_a_hand_is_heard_once_and_after_a_standing_alarm() -> None:
    player, clock = HeardPlayer(), PatientClock()
    sounder = Sounder(player, clock, lambda state: None)
    sounder.take(1, change("tripped", Priority.CRITICAL, State.UNACKNOWLEDGED))
    sounder.ask(Prompt(PromptName.LOOK, 0, 0, "words"))
    sounder.ask(Prompt(PromptName.TIME_LIMIT, 0, 0, "asks for nothing"))
    sounder.start()
    player.wait_for(2)
    clock.repeats.release()
    player.wait_for(1)
    sounder.close()
    assert player.played[:3] == [Priority.CRITICAL, "prompt", Priority.CRITICAL]


def test_a_prompt_alone_sounds_at_once() -> None:
    player, clock = HeardPlayer(), PatientClock()
    sounder = Sounder(player, clock, lambda state: None)
    sounder.start()
    sounder.ask(Prompt(PromptName.HOLD_DONE, 0, 0, "words"))
    player.wait_for(1)
    sounder.close()
    assert player.played == ["prompt"]


def test_a_failing_sound_is_told_once_and_tried_again() -> None:
    player, clock, told = HeardPlayer(), PatientClock(), list[SoundState]()
    player.fails = True
    sounder = Sounder(player, clock, told.append)
    sounder.start()
    sounder.take(1, change("tripped", Priority.CRITICAL, State.UNACKNOWLEDGED))
    player.wait_for(1)
    clock.repeats.release()
    player.wait_for(1)
    player.fails = False
    clock.repeats.release()
    player.wait_for(1)
    clock.repeats.release()
    player.wait_for(1)
    sounder.close()
    assert told == [SoundState(False, "no loudspeaker"), SoundState(True, "a test")]


def test_a_bug_in_the_sounding_is_told_and_does_not_end_it() -> None:
    player, clock, told = HeardPlayer(), PatientClock(), list[SoundState]()
    player.breaks = True
    sounder = Sounder(player, clock, told.append)
    sounder.start()
    sounder.take(1, change("tripped", Priority.CRITICAL, State.UNACKNOWLEDGED))
    player.wait_for(1)
    player.breaks = False
    clock.repeats.release()
    player.wait_for(1)
    clock.repeats.release()
    player.wait_for(1)
    sounder.close()
    assert [state.works for state in told] == [False, True]
    assert "ZeroDivisionError: of ours" in told[0].text


def test_a_way_that_failed_is_tried_again_until_it_works_also_while_nothing_stands() -> None:
    player, clock, told = HeardPlayer(), PatientClock(), list[SoundState]()
    player.fails = True
    sounder = Sounder(player, clock, told.append)
    sounder.start()
    sounder.try_out()
    player.wait_for(1)
    clock.repeats.release()
    player.wait_for(1)
    player.fails = False
    clock.repeats.release()
    player.wait_for(1)
    sounder.close()
    assert told == [SoundState(False, "no loudspeaker"), SoundState(True, "a test")]
    assert set(player.played) == {Priority.HIGH}


def test_a_trial_never_covers_what_stands() -> None:
    player = HeardPlayer()
    sounder = Sounder(player, PatientClock(), lambda state: None)
    sounder.try_out()
    sounder.take(1, change("tripped", Priority.CRITICAL, State.UNACKNOWLEDGED))
    sounder.start()
    player.wait_for(1)
    sounder.close()
    assert player.played[0] is Priority.CRITICAL


def test_the_sound_can_be_tried_out_before_anything_is_wrong() -> None:
    player = HeardPlayer()
    sounder = Sounder(player, PatientClock(), lambda state: None)
    sounder.start()
    sounder.try_out()
    player.wait_for(1)
    sounder.close()
    assert player.played == [Priority.HIGH]


def test_the_users_command_gets_the_priority(tmp_path: Path) -> None:
    heard = tmp_path / "heard"
    script = tmp_path / "horn.py"
    script.write_text(f"import sys; open({str(heard)!r}, 'w').write(sys.argv[-1])")
    CommandPlayer(f"{sys.executable} {script}").play(Priority.HIGH, 20.0)
    assert heard.read_text() == "high"


@pytest.mark.parametrize(
    ("command", "says"),
    [
        ("/no/such/horn", "cannot be run"),
        (f"{sys.executable} -c 'raise SystemExit(3)'", "failed with 3"),
        (f"{sys.executable} -c 'import signal; signal.pause()'", "not finished after"),
        ("", "empty"),
    ],
)
def test_a_command_that_makes_no_sound_says_why(command: str, says: str) -> None:
    with pytest.raises(SoundFailed, match=says):
        CommandPlayer(command).play(Priority.HIGH, 0.3)


def test_without_a_command_a_program_of_the_machine_plays_our_tone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    played = tmp_path / "played"
    program = tmp_path / "pw-play"
    program.write_text(f'#!/bin/sh\nhead -c 4 "$1" > {played}\n')
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    player = player_for(None)
    assert isinstance(player, TonePlayer)
    assert player.play(Priority.CRITICAL, 20.0) == "pw-play"
    assert played.read_bytes() == b"RIFF"


def test_a_disk_that_fills_up_silences_no_tone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    player = TonePlayer(["true"], [tmp_path])

    def full(file: Path, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    for priority in Priority:
        player.play(priority, 20.0)
    with pytest.raises(SoundFailed, match="free disk space"):
        TonePlayer(["true"], [tmp_path / "other"]).play(Priority.HIGH, 20.0)


def test_a_command_line_that_cannot_be_read_is_refused_at_once() -> None:
    with pytest.raises(WrongUse, match="No closing quotation"):
        CommandPlayer("horn 'half")
