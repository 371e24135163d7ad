"""`make mutation`: what must be right, changed in one place at a time; MUTATION.md.

    python -m benchmarks.mutation [--page | SUBJECT ...]

A copy of the project is changed by mutmut, which is asked for here only; the tests of the part are
run for each change. A change that no test notices is told, with the reason where there is one.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from benchmarks.page import Figure, machine, record_of, table, write_text

ROOT = Path(__file__).parents[1]
REPORT = ROOT / "benchmarks" / "MUTATION.md"
MUTMUT = "mutmut==3.8.1"
COPIED = (
    "bathvigil",
    "drivers",
    "monitor",
    "tui",
    "simulators",
    "tests",
    "benchmarks",
    "docs",
    "README.md",
    "DEVELOPERS.md",
)


@dataclass(frozen=True, slots=True)
class Subject:
    """Files that are changed, and the tests that should notice."""

    name: str
    files: tuple[str, ...]
    tests: tuple[str, ...]


SUBJECTS = (
    Subject(
        "alarm-table",
        ("monitor/alarms/board.py", "monitor/alarms/states.py"),
        ("tests/monitor/alarms",),
    ),
    Subject(
        "decoders",
        ("drivers/number.py", "drivers/text/answer.py", "drivers/modbus/register_value.py"),
        (
            "tests/drivers/text/test_read_number.py",
            "tests/drivers/text/test_answer.py",
            "tests/drivers/modbus/test_register_value.py",
        ),
    ),
    Subject(
        "frames",
        ("drivers/modbus/modbus_codec.py",),
        ("tests/drivers/modbus/test_modbus_codec.py", "tests/drivers/modbus/test_modbus_rtu.py"),
    ),
    Subject(
        "forecast-decision",
        ("monitor/alarms/conditions.py",),
        (
            "tests/monitor/alarms/test_conditions.py",
            "tests/monitor/alarms/test_condition_words.py",
        ),
    ),
)
EXPLAINED = (
    (r'= ""$', "another empty value in place of None; mypy refuses it"),
    (r"Standing\(kind, None\)", "set before it is read: each alarm that comes takes its own"),
    (r"SHELF_NS / 60_000_000_000|60000000001", "the same words, for ten minutes are whole"),
    (
        r"_is_shelf_used|is_quiet|self\._quiet",
        "a shortcut that saves time only: without it the same is found, later",
    ),
    (r"\(signal is None\) and False", "no signal moves nothing either way"),
    (r"\+.*_bytes\(.*, \)", "the same, for big-endian is Python's own choice since 3.11"),
    (r"\+.*cast\(None", "a word to mypy, nothing when it runs"),
    (r"_RTU\.buildFrame", "a serial frame does not carry the number"),
    (r'\+.*lstrip\("XX\+-XX"\)', "what stands there is a number: no X leads it"),
    (r"abs\(value\) > _FLOAT_NO_VALUE", "no single-precision number lies on the limit"),
    (
        r"^-.*(not a whole frame of|str\(error\)|of no known kind)",
        "a guard against another version of the library: the one that is pinned never comes here",
    ),
)
"""What each line that a change adds says (from "^-" on: takes away), and why no test can notice it
or needs to."""


def tried(subject: Subject, mutmut: Path) -> tuple[int, list[str]]:
    """How many changes there were, and those that no test noticed, as their lines."""
    with tempfile.TemporaryDirectory(prefix="bathvigil-mutation-") as name:
        place = Path(name)
        for part in COPIED:
            source = ROOT / part
            if source.is_dir():
                shutil.copytree(source, place / part, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(source, place / part)
        settings = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
        (place / "pyproject.toml").write_text(
            f"{settings}\n[tool.mutmut]\nsource_paths = {list(subject.files)}\n"
            f"pytest_add_cli_args_test_selection = {list(subject.tests)}\n"
            f"also_copy = {[*COPIED, 'pyproject.toml']}\n",
            encoding="utf-8",
        )
        output = _mutmut(mutmut, place, "run")
        counts = re.findall(r"(\d+)/(\d+)", output)
        if not counts or counts[-1][0] != counts[-1][1]:
            raise RuntimeError(f"{subject.name}: mutmut stopped: {output[-800:]}")
        lines = _mutmut(mutmut, place, "results").splitlines()
        # What no test runs at all is told here as well; an endless loop would be noticed.
        told_of = [line.rpartition(": ")[::2] for line in lines if ": " in line]
        left = [name.strip() for name, how in told_of if how not in ("killed", "timeout")]
        return int(counts[-1][1]), [
            _change(_mutmut(mutmut, place, "show", change)) for change in left
        ]


def _mutmut(mutmut: Path, place: Path, *words: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "mutmut", *words],
        cwd=place,
        env={**os.environ, "PYTHONPATH": str(mutmut)},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout + (done.stderr if done.returncode else "")


def _change(shown: str) -> str:
    """The lines that differ, without what stands around them."""
    lines = [
        line
        for line in shown.splitlines()
        if line[:1] in "+-" and not line.startswith(("---", "+++"))
    ]
    return "\n".join(lines)


def reason_of(change: str) -> str:
    """Why a change cannot or need not be noticed; "" where nobody has said.

    Examples
    --------
    >>> reason_of('-    signal = None\\n+    signal = ""')
    'another empty value in place of None; mypy refuses it'
    """
    lines = change.splitlines()
    for pattern, reason in EXPLAINED:
        sign = "-" if pattern.startswith("^-") else "+"
        changed = [line for line in lines if line.startswith(sign)]
        if changed and all(re.search(pattern, line) for line in changed):
            return reason
    return ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one subject."""

    what: str
    count: int
    seconds: float
    left: tuple[str, ...]

    @property
    def name(self) -> str:
        """The subject's name."""
        return self.what.partition(":")[0]

    @property
    def figure(self) -> Figure:
        """As a row of the page."""
        explained = sum(bool(reason_of(change)) for change in self.left)
        return Figure(
            self.what,
            f"{self.count - len(self.left)} of {self.count} noticed; {explained} of the others "
            f"explained; {self.seconds:.0f} s",
            "each noticed or explained",
            explained == len(self.left),
        )


def main() -> int:
    """Try the subjects and write the page; 1 where a change is neither noticed nor explained.

    Subjects that are not asked for stay as the last page has them. With `--page` nothing is tried:
    the changes of the last page get their reasons anew.
    """
    last = record_of(REPORT)
    outcomes = {earlier.name: earlier for earlier in outcomes_of(last)}
    if sys.argv[1:] == ["--page"]:
        return _write(list(outcomes.values()), last["command"])
    is_open = 0
    wanted = sys.argv[1:] or [candidate.name for candidate in SUBJECTS]
    with tempfile.TemporaryDirectory() as folder:
        line = [sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        subprocess.run([*line, "--target", folder, MUTMUT], check=True)
        for subject in SUBJECTS:
            if subject.name not in wanted:
                continue
            began_s = time.monotonic()
            count, left = tried(subject, Path(folder))
            what = f"{subject.name}: {', '.join(subject.files)}"
            outcome = Outcome(what, count, time.monotonic() - began_s, tuple(left))
            outcomes[subject.name] = outcome
            print(outcome.figure, flush=True)
            is_open = _write(
                [
                    outcomes[subject_done.name]
                    for subject_done in SUBJECTS
                    if subject_done.name in outcomes
                ],
                f"make mutation, {', '.join(wanted)}; {MUTMUT}",
            )
    return is_open


def outcomes_of(record: Mapping[str, Any]) -> Iterator[Outcome]:
    """The outcomes that a record holds."""
    for kept in record.get("outcomes", ()):
        yield Outcome(kept["what"], kept["count"], kept["seconds"], tuple(kept["left"]))


def _write(outcomes: Sequence[Outcome], command: str) -> int:
    below = [f"## {outcome.name}\n\n" + "\n".join(map(_told, outcome.left)) for outcome in outcomes]
    figures = [outcome.figure for outcome in outcomes]
    text = (
        f"# Changed in one place at a time\n\n`{command}`, on {machine()}.\n\n"
        f"{table(figures)}\n\n" + "\n".join(below).strip() + "\n"
    )
    kept = [asdict(outcome) for outcome in outcomes]
    return write_text(REPORT, text, command, figures, outcomes=kept)


def _told(change: str) -> str:
    return f"{reason_of(change) or 'NOT NOTICED'}:\n\n```diff\n{change}\n```\n"


if __name__ == "__main__":
    sys.exit(main())
