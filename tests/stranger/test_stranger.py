"""A driver that somebody else wrote: installed, listed, held to the promises, recorded through."""

import json
import os
import random
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from drivers.driver import OpensDriver
from drivers.promises import PROMISES, TIMEOUT_S, Fault, Given, Promise
from drivers.registry import driver_names, find_opener
from monitor.commands.main import run
from tests.drivers.fake_end import PtyEnd
from tests.drivers.spoiling import Piece

SAMPLE = Path(__file__).with_name("bench_meter")


@dataclass
class Meter:
    """The other end: repeats the number of each question, with values that are all different."""

    fault: Fault = Fault.NONE
    given: list[Given] = field(default_factory=list)
    received: list[bytes] = field(default_factory=list)
    unfinished: bytes = b""

    def receive(self, data: bytes) -> Sequence[Piece]:
        *messages, self.unfinished = (self.unfinished + data).split(b"\n")
        return [piece for message in messages for piece in self.answer(message)]

    def answer(self, message: bytes) -> list[Piece]:
        self.received.append(message)
        letter, _, number = message.decode("ascii").partition(" ")
        said = "METER 7"
        if letter == "R":
            volts, amps = 6.0 + len(self.given) / 1000, 2.0 + len(self.given) / 1000
            self.given += [Given("volts", volts), Given("amps", amps)]
            said = f"{volts:.3f} {amps:.3f}"
        whole = f"{number} {said}\n".encode("ascii")
        match self.fault:
            case Fault.MUTE | Fault.DRIP | Fault.UNPLUGGED:
                return []
            case Fault.PARTIAL:
                return [Piece(0.0, whole[: len(whole) // 2])]
            case Fault.LATE:
                return [Piece(1.5 * TIMEOUT_S, whole)]
            case Fault.NOISE:
                return [Piece(0.0, random.Random(len(self.received)).randbytes(12) + b"\x7f")]
        return [Piece(0.0, whole)]

    def is_question(self, message: bytes) -> bool:
        return message[:2] in (b"R ", b"N ") and message[2:].isdigit()


class CountingEnd(PtyEnd):
    """On a pseudo-terminal, under the driver's own name."""

    driver = "counting"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package in a folder, as an installer lays it there; a build would need a network.

    The layout is that of "Recording installed projects" and "Entry points specification" of the
    Python Packaging User Guide.
    """
    folder = tmp_path_factory.mktemp("site")
    project = tomllib.loads((SAMPLE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    name, version = project["name"], project["version"]
    info = folder / f"{name.replace('-', '_')}-{version}.dist-info"
    info.mkdir()
    shutil.copy(SAMPLE / "bench_meter.py", folder)
    lines = []
    for group, entries in project["entry-points"].items():
        lines += [f"[{group}]", *(f"{key} = {value}" for key, value in entries.items())]
    (info / "entry_points.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (info / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n", encoding="utf-8"
    )
    return folder


@pytest.fixture
def _installed(site: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.syspath_prepend(str(site))
    yield
    sys.modules.pop("bench_meter", None)


@pytest.fixture
def opens(_installed: None) -> OpensDriver:
    return find_opener("counting")


@pytest.fixture
def end(tmp_path: Path) -> Iterator[PtyEnd]:
    with CountingEnd(Meter(), tmp_path / "port") as made:
        yield made


def test_the_package_is_two_files() -> None:
    assert sorted(path.name for path in SAMPLE.iterdir() if path.is_file()) == [
        "bench_meter.py",
        "pyproject.toml",
    ]


@pytest.mark.usefixtures("_installed")
def test_it_is_listed_beside_ours(capsys: pytest.CaptureFixture[str]) -> None:
    assert {"counting", "scpi"} <= set(driver_names())
    assert run(["find", "--json"]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert {"kind": "driver", "driver": "counting"} in lines


@pytest.mark.parametrize("promise", PROMISES, ids=str)
def test_it_keeps_the_promises(promise: Promise, opens: OpensDriver, end: PtyEnd) -> None:
    promise.check(opens, end)


def test_a_run_is_recorded_through_it(site: Path, end: PtyEnd, tmp_path: Path) -> None:
    line = [sys.executable, "-m", "bathvigil"]
    record = ["record", end.address, "--limit-amps", "10", "--poll-s", "0.05", "--for-s", "1"]
    done = subprocess.run(
        [*line, *record, "--store", str(tmp_path / "runs.db"), "--json"],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env={**os.environ, "PYTHONPATH": str(site)},
    )
    assert done.returncode == 0, done.stderr
    summary = json.loads(done.stdout.splitlines()[-1])
    assert summary["kind"] == "summary"
    assert summary["samples"] > 10
    # On a busy machine an answer may be late, and its poll is missing.
    assert summary["missing"] < summary["samples"]


def test_without_it_the_address_says_which_drivers_there_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["check", "counting:/dev/null"]) == 1
    assert "there is no driver 'counting'" in capsys.readouterr().out
