"""Rows that need the whole recorder, its clock and its sounds: a scene behind a real line."""

from pathlib import Path

from benchmarks.hazards.bench import Bench
from benchmarks.hazards.chain import fast
from benchmarks.hazards.draw import Draw, draw
from benchmarks.hazards.names import HEAT_NOT_WATCHED, PROMPT_SOUND
from benchmarks.hazards.played import Played
from benchmarks.hazards.rows import ROWS
from benchmarks.hazards.said import Said, said_of
from tests.hazards.wire import scene_on_a_line
from tests.whole.processes import bathvigil, lines_of

SPEED = 20.0
TRIAL = ["high"]
"""What sounds when a recording begins, for the operator to hear."""


def sizes(row: str) -> Draw:
    """A bench without lost answers, polled twice a second."""
    drawn = draw(row, 0)
    drawn.rate_hz, drawn.missed_share, drawn.meter_update_s = 5.0, 0.0, 0.05
    drawn.limit_amps, drawn.amps, drawn.amps_step = 10.0, 5.0, 0.001
    return drawn


def recorded(played: Played, folder: Path) -> tuple[list[Said], list[str]]:
    """What `record --json` printed of a scene, and which sounds were made."""
    with scene_on_a_line(played, SPEED, folder) as (config, sounds):
        done = bathvigil(
            "record", "--config", config, "--store", folder / "runs.db", "--json",
            "--clock-speed", f"{SPEED}", "--for-s", f"{played.seconds - 2.0}",
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return said_of(lines_of(done.stdout)), sounds.read_text(encoding="utf-8").split()


def names(said: list[Said]) -> list[str]:
    """Of the alarms raised and the prompts."""
    return [one.name for one in said if one.kind in ("alarm", "prompt")]


def test_the_recorder_says_over_a_line_what_the_judge_hears(tmp_path: Path) -> None:
    """Times shift a little on the line: names and their order are compared."""
    played = ROWS["A3"].scene(sizes("A3"))
    said, _ = recorded(played, tmp_path)
    assert names(said) == names(said_of(fast(played)))
    assert "tripped" in names(said)


def test_a_low_alarm_sounds_once(tmp_path: Path) -> None:
    said, sounds = recorded(ROWS["V3l"].scene(sizes("V3l")), tmp_path)
    assert any(one.priority == "low" for one in said)
    assert sounds[len(TRIAL) :] == ["low"]


def test_a_prompt_that_asks_for_a_hand_sounds_like_no_alarm(tmp_path: Path) -> None:
    drawn = sizes("end")
    drawn.bubble_share, drawn.warm_per_hour = 0.002, 0.0
    bench = Bench(drawn)
    bench.strip(200.0)
    fell_s = 25.0
    bench.run(100.0, lambda t_s: setattr(bench.cell, "growth", 1.0 - 0.2 * min(t_s / fell_s, 1.0)))
    said, sounds = recorded(bench.end(), tmp_path)
    assert "strip-looks-finished" in names(said)
    assert sounds[len(TRIAL) :] == [PROMPT_SOUND]


def test_the_end_of_the_day_is_quiet(tmp_path: Path) -> None:
    played = ROWS["T4"].scene(sizes("T4"))
    said, sounds = recorded(played, tmp_path)
    assert "end-the-run" in names(said)
    assert not [one for one in said if one.kind == "alarm" and one.priority == "critical"]
    assert len(sounds) <= len(TRIAL) + 1


def test_a_bench_without_ratings_is_told_at_the_start_that_heat_is_not_watched(
    tmp_path: Path,
) -> None:
    said, _ = recorded(ROWS["H2"].scene(sizes("H2")), tmp_path)
    assert [one.name for one in said if one.kind == "prompt"].count(HEAT_NOT_WATCHED) == 1
