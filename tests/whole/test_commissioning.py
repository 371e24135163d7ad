"""Supplies of every make that the simulators know, commissioned by process and read afterwards.

What the panel shows comes from the scene's own table, not from the wire.
"""

import csv
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.whole.processes import PATIENCE_S, bathvigil, command_line

SPEED = 10.0
SCENE = """
story = "Six volts for a while, then nine and a half; nothing finishes."
duration_s = 600
seed = 3
[supply]
name = "bench-1"
limit_amps = 20.0
at_limit = "trips"
cut_out = "delay"
delay_s = 0.5
volts_max = 15.0
amps_max = 20.0
soft_start_s = 3.0
[bath]
name = "north tank"
litres = 9.0
celsius = 20.5
room_celsius = 19.5
watts_per_kelvin = 2.7
evaporation_ml_per_hour = 20.0
probe = true
[circuit]
siemens_at_25 = 1.35
polarisation_volts = 1.9
polarisation_rise_volts = 0.6
lead_ohms = 0.012
loading_per_amp_hour = 0.005
wander_share = 0.001
[part]
area_dm2 = 1.6
micrometres = 30.0
efficiency = 0.25
patchy = 0.1
[[event]]
at_s = 1
do = "set-volts"
volts = 6.0
[[event]]
at_s = 2
do = "output-on"
[[event]]
at_s = 240
do = "set-volts"
volts = 9.5
"""
READ_AT_S = (60.0, 260.0)
"""Each long before the panel is turned: on a busy machine the commands start late."""


@dataclass(frozen=True)
class Make:
    """One make of supply: how the simulator plays it, and what its manual says."""

    name: str
    link: tuple[str, ...]
    manual: tuple[str, ...]


MAKES = (
    Make(
        "uint16",
        ("modbus-rtu", "--registers", "supply-uint16"),
        ("--volts-at", "40001", "--amps-at", "40002", "--celsius-at", "40004"),
    ),
    Make(
        "int32-cdab",
        ("modbus-rtu", "--registers", "supply-int32-cdab", "--deaf-s", "0.06"),
        ("--volts-at", "40257", "--amps-at", "40259", "--type", "int32", "--order", "CDAB"),
    ),
    Make(
        "asks-apart",
        ("lines-serial", "--speech", "asks-apart"),
        ("--ask-volts", "V?", "--ask-amps", "I?", "--ask-state", "ST", "--ask-identity", "SN"),
    ),
    Make(
        "pair-crlf",
        ("lines-serial", "--speech", "pair-crlf"),
        ("--ask-volts", "READ", "--ask-amps", "READ", "--ask-identity", "ID"),
    ),
    Make("talker", ("lines-serial", "--speech", "talker"), ()),
    Make("scpi", ("scpi-serial",), ()),
)


@dataclass(frozen=True)
class Outcome:
    """How one commissioning ended."""

    code: int
    err: str
    check: "subprocess.CompletedProcess[str]"


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Outcome]]:
    """All makes side by side, each with somebody at its panel."""
    folder = tmp_path_factory.mktemp("makes")
    scene = folder / "steps.toml"
    scene.write_text(SCENE, encoding="utf-8")
    simulate = [sys.executable, "-m", "simulators", "--scene", str(scene)]
    table = folder / "steps.csv"
    subprocess.run([*simulate, "--csv", str(table)], check=True)
    panel = [word for t_s in READ_AT_S for word in ("--panel", *shown(table, t_s)[:2])]
    warm = [word for t_s in READ_AT_S for word in ("--panel-celsius", shown(table, t_s)[2])]
    with ExitStack() as held:
        running = []
        for make in MAKES:
            port = folder / make.name
            line = [*simulate, "--link", *make.link, "--link-name", str(port)]
            # With a panel the scene begins at once, not with the first question.
            process = subprocess.Popen(
                [*line, "--speed", str(SPEED), "--panel"],
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
            )
            held.callback(process.wait, PATIENCE_S)
            held.callback(process.terminate)
            assert process.stdout is not None
            held.callback(process.stdout.close)
            process.stdout.readline()
            began_s = time.monotonic()
            kind = make.link[0].partition("-")[0]
            address = f"{kind}:{port}" + ("?parity=none" if kind == "modbus" else "")
            commission = subprocess.Popen(
                command_line(
                    "commission", address, "--to", folder / f"{make.name}.toml", *panel,
                    *make.manual, *(warm if "--celsius-at" in make.manual else ()),
                    "--operator", "Jo", "--title", make.name, "--source", "p. 1",
                    "--rated-volts", "15", "--rated-amps", "20", "--timeout-s", "0.3",
                ),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )  # fmt: skip
            running.append((make, address, commission, began_s))
        for t_s in READ_AT_S:
            for _, _, commission, began_s in running:
                time.sleep(max(0.0, began_s + t_s / SPEED - time.monotonic()))
                assert commission.stdin is not None
                commission.stdin.write("\n")
                commission.stdin.flush()
        with ThreadPoolExecutor() as side_by_side:
            ended = side_by_side.map(lambda one: ending(folder, *one[:3]), running)
            yield {make.name: outcome for (make, *_), outcome in zip(running, ended, strict=True)}


def ending(folder: Path, make: Make, address: str, commission: "subprocess.Popen[str]") -> Outcome:
    """Wait for the end of a commissioning, and check the supply with what it made."""
    _, err = commission.communicate(timeout=60)
    description = folder / f"{make.name}.toml"
    # On a busy machine a reply may come late; a wrong description fails every time.
    for _ in range(3):
        check = bathvigil(
            "check", address, "--description", description, "--store", folder / "runs.db"
        )
        if check.returncode == 0 and "0 late, 0 unreadable" in check.stdout:
            break
    return Outcome(commission.returncode, err, check)


def shown(table: Path, t_s: float) -> tuple[str, str, str]:
    """What the panel shows at a time, by the scene's table."""
    with table.open(newline="", encoding="utf-8") as file:
        row = next(row for row in csv.DictReader(file) if float(row["t_s"]) >= t_s)
    volts, amps, celsius = (float(row[name]) for name in ("volts", "amps", "celsius"))
    return f"{volts:.2f}", f"{amps:.2f}", f"{celsius:.1f}"


@pytest.mark.parametrize("make", MAKES, ids=lambda make: make.name)
def test_every_make_is_commissioned_and_passes_its_checks(
    make: Make, outcomes: dict[str, Outcome]
) -> None:
    outcome = outcomes[make.name]
    assert outcome.code == 0, outcome.err
    assert "read with it now: 9." in outcome.err
    assert outcome.check.returncode == 0, outcome.check.stdout
    assert "pass  decode" in outcome.check.stdout


def test_a_unit_that_is_deaf_after_its_reply_gets_a_rest(outcomes: dict[str, Outcome]) -> None:
    """Of 60 ms here; more is proposed, and `check` with that description loses no reply."""
    outcome = outcomes["int32-cdab"]
    rest = re.search(r"it needs a rest between two frames, (\d+) ms are proposed", outcome.err)
    assert rest is not None, outcome.err
    assert int(rest[1]) > 60
    assert "0 late, 0 unreadable" in outcome.check.stdout


def test_a_probe_is_read_beside_volts_and_amps(outcomes: dict[str, Outcome]) -> None:
    assert re.search(r"read with it now: .* A, 2[0-9]\.[0-9] C, ", outcomes["uint16"].err)
