"""Export, backup and replay as commands: every format there and back, and what is refused."""

import json
import re
from pathlib import Path

import pytest

from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.recorder.lock import store_lock
from monitor.store.schema import OLDEST_READ, STEPS
from monitor.store.writer import StoreWriter
from monitor.watch.vigil import Vigil
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, a_store
from tests.whole.processes import bathvigil, in_process

EXPORTS = Path(__file__).parents[2] / "docs" / "EXPORTS.md"
POLL_NS = 500_000_000


def rising_run() -> list[Sample | Gap]:
    """Amps that climb to a limit of 10 A and are cut off there, with a hole on the way."""
    rows: list[Sample | Gap] = []
    for seq in range(1500):
        t_ns = seq * POLL_NS
        if 400 <= seq < 420:
            rows.append(Gap(seq, t_ns, BEGAN_UTC_NS + t_ns, "no answer"))
            continue
        amps = round(6 + seq * 0.0031 + 0.01 * (seq % 7), 3)
        volts, amps = (9.0, amps) if amps < 10 else (0.0, 0.0)
        rows.append(Sample(seq, t_ns, BEGAN_UTC_NS + t_ns, 0, volts, amps))
    return rows


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("store") / "runs.db"
    facts = RunFacts("bench-1", "scpi:/dev/x", 10.0, LimitKind.TRIPS, bath_litres=9.0, poll_s=0.5)
    with a_store(path) as writer:
        run = writer.begin_run(facts, clock=HandClock(), program="x").run
        rows = rising_run()
        for at in range(0, len(rows), 100):
            writer.write([(run, row) for row in rows[at : at + 100]])
        writer.end_run(run, None, "done")
    return path


def alarms_of_the_recorder() -> list[tuple[object, ...]]:
    facts = RunFacts("bench-1", "", 10.0, bath_litres=9.0, poll_s=0.5)
    vigil = Vigil(facts)
    return [
        (event.alarm, event.change.value, round(event.t_s, 6))
        for row in rising_run()
        for event in vigil.update(row).events
    ]


def alarms_in(text: str) -> list[tuple[object, ...]]:
    lines = [json.loads(line) for line in text.splitlines()]
    return [
        (line["alarm"], line["change"], line["t_s"]) for line in lines if line["kind"] == "alarm"
    ]


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("run.csv", ()),
        ("german.csv", ("--for", "spreadsheet", "--separator", ";", "--decimal", ",")),
        ("english.csv", ("--for", "spreadsheet", "--separator", ",", "--decimal", ".")),
        ("tabs.csv", ("--for", "spreadsheet", "--separator", "tab")),
        ("run.jsonl", ()),
        ("run.parquet", ()),
        ("run.xlsx", ()),
    ],
)
def test_replay_of_every_export_says_what_the_recorder_said(
    store: Path, tmp_path: Path, name: str, options: tuple[str, ...]
) -> None:
    to = tmp_path / name
    done = in_process("export", "1", "--to", to, *options, "--store", store)
    assert done.returncode == 0, done.stderr
    assert "1500 rows of run 1" in done.stderr
    assert done.stdout == ""
    facts = json.loads(to.with_name(f"{name}.facts.json").read_text("utf-8"))
    assert (facts["limit_amps"], facts["missing"]) == (10.0, 20)
    again = in_process("replay", to, "--limit-amps", "10", "--bath-litres", "9", "--json")
    assert again.returncode == 0, again.stderr
    expected = alarms_of_the_recorder()
    assert [alarm for alarm, *_ in expected].count("tripped") >= 1
    assert alarms_in(again.stdout) == expected


def test_a_preview_shows_the_first_lines_and_writes_nothing(store: Path, tmp_path: Path) -> None:
    to = tmp_path / "run.csv"
    done = in_process("export", "1", "--to", to, "--preview", "--store", store)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0] == "t_s,utc,local,volts,amps,celsius,mode,quality,reason"
    assert [line.partition(",")[0] for line in lines[1:]] == [
        f"{number / 2:.9f}" for number in range(5)
    ]
    assert re.fullmatch(
        rf"{to} would hold 1500 rows of run 1, about \d+ kB; nothing was written\n", done.stderr
    )
    assert list(tmp_path.iterdir()) == []


def test_replay_of_a_stored_run_needs_no_options(store: Path) -> None:
    done = in_process("replay", "--run", "1", "--store", store, "--json")
    assert done.returncode == 0, done.stderr
    assert alarms_in(done.stdout) == alarms_of_the_recorder()
    other = in_process("replay", "--run", "1", "--limit-amps", "20", "--store", store, "--json")
    assert "tripped" not in other.stdout.split('"kind":"summary"')[0] or other.returncode == 0


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (["replay"], "choose one: a FILE, or --run"),
        (["replay", "x.csv", "--run", "1"], "choose one: a FILE, or --run"),
        (["replay", "x.csv"], "--limit-amps"),
        (["export", "1", "--to", "x.doc"], ".csv, .jsonl, .parquet, .xlsx"),
        (["export", "1", "--to", "x.csv", "--decimal", ","], "--for spreadsheet"),
        (["export", "1", "--to", "x.xlsx", "--for", "spreadsheet"], "makes a .csv file"),
        (
            ["export", "1", "--to", "x.csv", "--for", "spreadsheet", "--separator", ","],
            "choose others",
        ),
    ],
)
def test_wrong_use_is_one_line_with_the_cure(line: list[str], says: str, store: Path) -> None:
    done = in_process(*line, "--store", store)
    assert done.returncode == 2
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_backup_makes_a_copy_that_other_commands_read(store: Path, tmp_path: Path) -> None:
    to = tmp_path / "copy.db"
    done = in_process("backup", to, "--store", store)
    assert done.returncode == 0, done.stderr
    assert "needs no other file" in done.stderr
    runs = in_process("runs", "--json", "--store", to)
    assert json.loads(runs.stdout)["samples"] == 1480


def test_a_review_says_which_way_to_copy_while_the_newest_rows_lie_in_the_log(
    tmp_path: Path,
) -> None:
    path = tmp_path / "runs.db"
    with a_store(path) as writer:
        writer.begin_run(RunFacts("bench-1", "scpi:/dev/x", 10.0), clock=HandClock(), program="x")
        told = in_process("review", "1", "--store", path).stderr
    assert "newest rows are in runs.db-wal" in told
    assert f"`bathvigil backup COPY.db --store {path}`" in told
    assert in_process("review", "1", "--store", path).stderr == ""


def test_a_store_of_an_older_version_can_be_looked_at_without_recording_first(
    tmp_path: Path,
) -> None:
    path = tmp_path / "runs.db"
    with StoreWriter(path, steps=STEPS[: OLDEST_READ - 1]) as writer:
        writer.begin_run(RunFacts("bench-1", "scpi:/dev/x", 10.0), clock=HandClock(), program="x")
    older = path.read_bytes()
    with store_lock(path):
        refused = bathvigil("runs", "--store", path)
    assert refused.returncode == 1, "somebody records into it"
    assert path.read_bytes() == older
    done = in_process("runs", "--json", "--store", path)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["supply"] == "bench-1"
    kept = path.with_name(f"runs.version-{OLDEST_READ - 1}.db")
    assert f"the older file is kept as {kept}" in done.stderr
    assert kept.exists()
    assert in_process("runs", "--json", "--store", path).stderr == ""


def test_the_python_of_the_exports_page_runs(
    store: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = EXPORTS.read_text("utf-8")
    block = re.search(r"<!-- python.*?-->\n```python\n(.*?)```", text, re.DOTALL)
    assert block is not None
    monkeypatch.chdir(store.parent)
    (store.parent / "bathvigil.db").write_bytes(store.read_bytes())
    # The very text of the page, which is ours.
    exec(block[1], {})
    printed = capsys.readouterr().out.splitlines()
    known_amps = [row.amps for row in rising_run()[:1201] if isinstance(row, Sample) and row.amps]
    assert printed[0] == "1 bench-1 10.0"
    assert printed[1] == f"1201 {max(known_amps)} 600.0"
    assert len(printed) == 102
