"""The main job on real lines: simulator, driver, recorder, store, and every command afterwards."""

import csv
import json
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import pytest

from monitor.store.reader import open_store
from tests.whole.processes import Fact, bathvigil, in_process, lines_of, simulator, start

SPEED = 30.0
POLL_S = 0.5
MACHINE_LATE = "the machine was late"
"""A busy machine that stops for 0.17 s has no data for 5 s of the bath's time, and says so."""


@dataclass(frozen=True)
class Story:
    """One scene as it was recorded: what the recorder printed, and where everything lies."""

    lines: list[Fact]
    store: Path
    log: Path

    def alarms(self, change: str) -> list[tuple[str, float]]:
        """Names and times, without those of a machine that was late."""
        return [(name, t_s) for name, which, t_s in _alarms(self.lines) if which == change]

    def exported(self, to: Path) -> list[dict[str, str]]:
        done = in_process("export", "1", "--to", to, "--store", self.store)
        assert done.returncode == 0, done.stderr
        with to.open(newline="", encoding="utf-8") as file:
            return list(csv.DictReader(file))


def _alarms(lines: list[Fact]) -> list[tuple[str, str, float]]:
    """Name, change and time of each, without those of a machine that was late."""
    alarms = [line for line in lines if line["kind"] == "alarm"]
    was_late = any(MACHINE_LATE in str(line["message"]) for line in alarms)
    return [
        (str(line["alarm"]), str(line["change"]), float(str(line["t_s"])))
        for line in alarms
        if not (was_late and line["alarm"] == "no-data")
    ]


SCENES = {
    # scene: link, limit, what the supply does at it, bath seconds to record
    "tank-warms-to-trip": ("scpi-serial", 40.0, "trips", 800.0),
    "quiet-strip": ("scpi-tcp", 10.0, "trips", 540.0),
    "sudden-short": ("scpi-serial", 40.0, "trips", 300.0),
    "supply-limits": ("scpi-tcp", 10.0, "holds", 480.0),
}


@pytest.fixture(scope="module")
def stories(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Story]]:
    """All scenes, recorded side by side by recorders of their own."""
    folder = tmp_path_factory.mktemp("stories")
    with ExitStack() as held:
        recorders = {}
        for scene, (link, limit, kind, seconds) in SCENES.items():
            log, store = folder / f"{scene}.jsonl", folder / f"{scene}.db"
            address, _ = held.enter_context(simulator(scene, link, SPEED, log))
            recorders[scene] = (
                start(
                    "record", address, "--limit-amps", str(limit), "--at-limit", kind,
                    "--poll-s", str(POLL_S), "--clock-speed", str(SPEED), "--for-s", str(seconds),
                    "--store", store, "--json",
                ),
                store,
                log,
            )  # fmt: skip
        told = {}
        for scene, (process, store, log) in recorders.items():
            out, err = process.communicate(timeout=120)
            assert process.returncode == 0, err
            told[scene] = Story(lines_of(out), store, log)
        yield told


def test_the_warning_stands_long_before_the_trip(stories: dict[str, Story]) -> None:
    story = stories["tank-warms-to-trip"]
    raised = dict(story.alarms("raised"))
    returned = dict(story.alarms("returned"))
    # Amps that stand over 95 % of the limit before the warning have an alarm of their own.
    assert set(raised) - {"margin-small"} == {"trip-expected", "tripped"}
    assert 30.0 <= raised["tripped"] - raised["trip-expected"] <= 600.0
    assert returned["trip-expected"] == raised["tripped"], "it stood until the trip"
    warning = next(line for line in story.lines if line.get("alarm") == "trip-expected")
    assert warning["trip_in_s"] is not None
    assert float(str(warning["trip_in_low_s"])) < float(str(warning["trip_in_s"]))


def test_a_quiet_strip_raises_nothing(stories: dict[str, Story]) -> None:
    assert stories["quiet-strip"].alarms("raised") == []


def test_a_short_is_a_cut_out_at_once(stories: dict[str, Story]) -> None:
    raised = [alarm for alarm, _ in stories["sudden-short"].alarms("raised")]
    # Whether the half second of the short itself is caught depends on where the polls fall.
    assert raised in (["short", "tripped"], ["tripped"])


def test_a_supply_that_limits_is_told_as_such(stories: dict[str, Story]) -> None:
    raised = [alarm for alarm, _ in stories["supply-limits"].alarms("raised")]
    assert "current-limited" in raised
    assert "tripped" not in raised


@pytest.mark.parametrize("scene", SCENES)
def test_exported_values_are_what_the_supply_sent(
    scene: str, stories: dict[str, Story], tmp_path: Path
) -> None:
    story = stories[scene]
    sent = []
    for line in story.log.read_text().splitlines():
        exchange = json.loads(line)
        answer = exchange["answer"].strip()
        if exchange["question"].strip().upper().startswith("MEAS:VOLT?") and ";" in answer:
            sent.append(tuple(float(part) for part in answer.split(";")))
    rows = story.exported(tmp_path / "run.csv")
    got = [(float(row["volts"]), float(row["amps"])) for row in rows if row["volts"]]
    assert len(got) > 200
    # Opening the link may ask once or twice more than the run has samples. An answer that came
    # too late on a busy machine is no value: its row says why.
    missing = sum(not row["volts"] for row in rows)
    assert 0 <= len(sent) - len(got) <= 3 + missing
    rest = iter(sent)
    assert all(value in rest for value in got), "each was sent, in this order"


@pytest.mark.parametrize("scene", SCENES)
def test_every_due_poll_is_a_row(scene: str, stories: dict[str, Story], tmp_path: Path) -> None:
    rows = stories[scene].exported(tmp_path / "run.csv")
    seconds = SCENES[scene][3]
    times = [float(row["t_s"]) for row in rows]
    assert times == sorted(times)
    # A busy machine ends it late, after more polls than were asked for, and none of them is lost.
    assert times[-1] >= seconds - 2 * POLL_S
    with open_store(stories[scene].store) as store:
        places = [row.seq for row in store.run(1).rows()]
    assert places == list(range(len(rows)))
    # An answer is stamped when it came: on a busy machine later than it was due, never before.
    late_s = [t_s - place * POLL_S for t_s, place in zip(times, places, strict=True)]
    assert min(late_s) >= 0.0
    assert median(late_s) < POLL_S
    missing = [row for row in rows if row["quality"] == "missing"]
    assert all(row["reason"] and not row["volts"] for row in missing)


def test_the_run_is_listed_and_told_again(stories: dict[str, Story]) -> None:
    story = stories["tank-warms-to-trip"]
    done = in_process("runs", "--json", "--store", story.store)
    (run,) = lines_of(done.stdout)
    summary = story.lines[-1]
    assert run["run"] == 1
    assert run["ended_utc"] is not None
    assert (run["samples"], run["alarms"]) == (summary["samples"], summary["alarms"])
    assert run["amp_hours"] == pytest.approx(summary["amp_hours"], rel=1e-6)
    assert {"supply", "began_utc", "seconds", "gaps"} <= set(run)
    told = in_process("review", "1", "--store", story.store)
    assert told.returncode == 0
    assert "trip-expected raised" in told.stdout
    assert "tripped raised" in told.stdout


def test_the_store_is_one_file_after_the_run(stories: dict[str, Story]) -> None:
    for story in stories.values():
        wal = story.store.with_name(story.store.name + "-wal")
        assert not wal.exists() or wal.stat().st_size == 0


def test_replay_of_an_export_says_what_the_recorder_said(
    stories: dict[str, Story], tmp_path: Path
) -> None:
    story = stories["tank-warms-to-trip"]
    story.exported(tmp_path / "run.csv")
    done = in_process("replay", tmp_path / "run.csv", "--limit-amps", "40", "--json")
    # That no row comes is heard by the clock, not by a row: a table cannot tell when.
    assert [alarm for alarm in _alarms(lines_of(done.stdout)) if alarm[0] != "no-data"] == [
        alarm for alarm in _alarms(story.lines) if alarm[0] != "no-data"
    ]


def test_the_demo_tells_its_story_without_a_terminal_and_ends_by_itself(tmp_path: Path) -> None:
    done = bathvigil("demo", "--speed", "60", "--store", tmp_path / "demo.db")
    assert done.returncode == 0, done.stderr
    for words in (
        "RISING",
        "ALARM trip-expected raised",
        "CUT OUT",
        "FINISHED",
        "bathvigil review",
    ):
        assert words in done.stdout
