"""`make mutation`: what must be right, changed in one place at a time; MUTATION.md.

    python -m benchmarks.mutation [SUBJECT ...]

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
from dataclasses import dataclass
from pathlib import Path

from benchmarks.page import Figure, machine, table

ROOT = Path(__file__).parents[1]
REPORT = ROOT / "benchmarks" / "MUTATION.md"
MUTMUT = "mutmut==3.8.1"
COPIED = ("drivers", "monitor", "tui", "simulators", "tests", "benchmarks", "README.md")


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
        ("drivers/number.py", "drivers/answer.py", "drivers/register_value.py"),
        (
            "tests/drivers/test_number.py",
            "tests/drivers/test_answer.py",
            "tests/drivers/test_register_value.py",
        ),
    ),
    Subject(
        "frames",
        ("drivers/modbus_codec.py",),
        ("tests/drivers/test_modbus_codec.py", "tests/drivers/test_modbus_rtu.py"),
    ),
    Subject(
        "forecast-decision",
        ("monitor/alarms/conditions.py",),
        ("tests/monitor/alarms/test_conditions.py", "tests/monitor/alarms/test_board.py"),
    ),
)
EXPLAINED = (
    (r'= ""$', "another empty value in place of None; mypy refuses it"),
    (r"_Standing\(kind, None\)", "set before it is read: each alarm that comes takes its own"),
    (r"SHELF_NS / 60_000_000_000|60000000001", "the same words, for ten minutes are whole"),
    (r"# |\"\"\"", "words that nobody reads"),
)
"""What a change says, and why no test can notice it or needs to."""


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
        told = _mutmut(mutmut, place, "run")
        counts = re.findall(r"(\d+)/(\d+)", told)
        if not counts or counts[-1][0] != counts[-1][1]:
            raise RuntimeError(f"{subject.name}: mutmut stopped: {told[-800:]}")
        lines = _mutmut(mutmut, place, "results").splitlines()
        left = [line.split(":")[0].strip() for line in lines if line.endswith(": survived")]
        return int(counts[-1][1]), [_change(_mutmut(mutmut, place, "show", one)) for one in left]


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
    added = [line for line in change.splitlines() if line.startswith("+")]
    for pattern, reason in EXPLAINED:
        if added and all(re.search(pattern, line) for line in added):
            return reason
    return ""


def main() -> int:
    """Try the subjects and write the page; 1 where a change is neither noticed nor explained."""
    wanted = sys.argv[1:] or [one.name for one in SUBJECTS]
    figures, below = [], []
    with tempfile.TemporaryDirectory() as folder:
        line = [sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        subprocess.run([*line, "--target", folder, MUTMUT], check=True)
        for subject in SUBJECTS:
            if subject.name not in wanted:
                continue
            began_s = time.monotonic()
            count, left = tried(subject, Path(folder))
            open_ones = [change for change in left if not reason_of(change)]
            figures.append(
                Figure(
                    f"{subject.name}: {', '.join(subject.files)}",
                    f"{count - len(left)} of {count} noticed; {len(left) - len(open_ones)} of the "
                    f"others explained; {time.monotonic() - began_s:.0f} s",
                    "each noticed or explained",
                    not open_ones,
                )
            )
            print(figures[-1], flush=True)
            below += [f"## {subject.name}\n", *map(_told, left)]
            REPORT.write_text(
                "# Changed in one place at a time\n\n"
                f"`make mutation`, on {machine()}; {MUTMUT}.\n\n"
                f"{table(figures)}\n\n" + "\n".join(below).strip() + "\n",
                encoding="utf-8",
            )
    return int(any(one.is_met is False for one in figures))


def _told(change: str) -> str:
    return f"{reason_of(change) or 'NOT NOTICED'}:\n\n```diff\n{change}\n```\n"


if __name__ == "__main__":
    sys.exit(main())
