"""The command: its first line, its log, its trace, its end, and its one-line complaints."""

import csv
import json
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import serial

from simulators.__main__ import main
from simulators.scene import SCENES, scene_names

COMMAND = [sys.executable, "-m", "simulators"]
MODBUS = ["--scene", "quiet-strip", "--link", "modbus-tcp"]
LINES = ["--scene", "quiet-strip", "--link", "lines-tcp"]


@contextmanager
def running(*words: str) -> Iterator[tuple["subprocess.Popen[str]", str]]:
    """The command as a process of its own, and the first line that it prints."""
    process = subprocess.Popen(
        [*COMMAND, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    try:
        yield process, process.stdout.readline().strip()
    finally:
        process.kill()
        process.communicate()


def ask(address: str, message: bytes) -> bytes:
    host, port = address.removeprefix("scpi:tcp://").split(":")
    with socket.create_connection((host, int(port)), timeout=10.0) as connection:
        connection.sendall(message)
        return connection.makefile("rb").readline()


@pytest.mark.parametrize("name", ["SIGTERM", "SIGINT", "SIGHUP"])
def test_it_serves_until_it_is_told_to_end_and_ends_well(name: str, tmp_path: Path) -> None:
    log = tmp_path / "talk.jsonl"
    words = ["--scene", "quiet-strip", "--link", "scpi-tcp", "--log", str(log)]
    with running(*words) as (process, address):
        answer = ask(address, b"MEAS:VOLT?;CURR?\n")
        process.send_signal(getattr(signal, name))
        assert process.wait(timeout=10.0) == 0
        assert process.communicate() == ("", "")
    (line,) = log.read_text(encoding="utf-8").splitlines()
    told = json.loads(line)
    assert told["question"] == "MEAS:VOLT?;CURR?"
    assert told["answer"].encode() + b"\n" == answer
    assert told["commands"] == []
    assert told["t_s"] == 0.0
    assert told["true"] == {
        "t_s": 0.0,
        "volts": 0.0,
        "amps": 0.0,
        "celsius": 20.5,
        "mode": "output-off",
    }


def test_the_log_has_every_line_before_its_answer_is_on_the_wire(tmp_path: Path) -> None:
    log, name = tmp_path / "talk.jsonl", tmp_path / "port"
    words = ["--scene", "tank-warms-to-trip", "--link", "scpi-serial", "--speed", "500"]
    with (
        running(*words, "--log", str(log), "--link-name", str(name)) as (process, address),
        serial.Serial(str(name), timeout=10.0) as port,
    ):
        assert address == f"scpi:{name.readlink()}"
        answers = []
        for number in range(1, 21):
            port.write(b"MEAS:VOLT?;CURR?\n")
            answers.append(port.readline().decode().strip())
            lines = log.read_text(encoding="utf-8").splitlines()
            assert len(lines) == number
        process.terminate()
        assert process.wait(timeout=10.0) == 0
        assert not name.is_symlink()
    told = [json.loads(line) for line in lines]
    assert [line["answer"] for line in told] == answers
    assert told[-1]["t_s"] > told[0]["t_s"] == 0.0


def test_it_ends_by_itself_if_told_for_how_long() -> None:
    with running("--scene", "quiet-strip", "--link", "scpi-tcp", "--for-s", "0.1") as (process, _):
        assert process.wait(timeout=10.0) == 0


def test_a_reader_that_has_gone_is_no_reason_for_a_traceback() -> None:
    line = f"{sys.executable} -m simulators --scene tank-warms-to-trip --csv - | head -1"
    done = subprocess.run(line, shell=True, capture_output=True, text=True, check=False)
    assert (done.stdout, done.stderr) == ("t_s,volts,amps,celsius\n", "")


def test_it_writes_a_scene_as_a_table(tmp_path: Path) -> None:
    path = tmp_path / "scene.csv"
    assert main(["--scene", "sudden-short", "--csv", str(path), "--rate-hz", "2"]) == 0
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["t_s", "volts", "amps", "celsius"]
    assert len(rows) == 540 * 2 + 1
    assert [float(rows[number]["t_s"]) for number in (0, 1, -1)] == [0.0, 0.5, 540.0]
    assert float(rows[200]["amps"]) == pytest.approx(24.0, abs=0.7)
    assert float(rows[200]["celsius"]) == pytest.approx(21.3, abs=0.3)


def test_another_seed_is_another_table(capsys: pytest.CaptureFixture[str]) -> None:
    tables = []
    for seed in ("5", "5", "6"):
        assert main(["--scene", "swab-warms-to-trip", "--csv", "-", "--seed", seed]) == 0
        tables.append(capsys.readouterr().out)
    assert tables[0] == tables[1] != tables[2]
    assert tables[0].splitlines()[1].endswith(",")  # no probe: celsius is unknown, not nought


def test_it_tells_the_scenes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--scenes"]) == 0
    told = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in told] == scene_names()


def test_it_tells_the_facts_of_a_scene(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--scene", "swab-warms-to-trip", "--facts"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts.pop("story").startswith("A lamp bracket")
    assert facts == {
        "scene": "swab-warms-to-trip",
        "duration_s": 1140.0,
        "seed": 1,
        "supply": "bench-1",
        "limit_amps": 10.0,
        "at_limit": "trips",
        "bath": "swab pot",
        "litres": 0.4,
        "probe": False,
    }


def test_its_help_names_every_link(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    told = capsys.readouterr().out
    for word in ("scpi-tcp", "scpi-serial", "modbus-tcp", "modbus-rtu", "lines-serial", "talker"):
        assert word in told


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--scene", "quite-strip", "--link", "scpi-tcp"], 2, "did you mean quiet-strip?"),
        (["--scene", "/no/such.toml", "--csv", "-"], 2, "cannot read the scene /no/such.toml"),
        (["--link", "scpi-tcp"], 2, "--scene is missing; known are quiet-strip, sudden-short"),
        (["--scene", "quiet-strip"], 2, "choose exactly one of --link, --csv, --facts"),
        (
            ["--scene", "quiet-strip", "--link", "scpi-tcp", "--csv", "-"],
            2,
            "choose exactly one of",
        ),
        (["--scene", "quiet-strip", "--link", "scpi-tpc"], 2, "did you mean scpi-tcp?"),
        (
            ["--scene", "quiet-strip", "--speed", "0"],
            2,
            "--speed: '0' should be from 0.01",
        ),
        (["--scene", "quiet-strip", "--speed", "nan"], 2, "--speed: 'nan' should be from"),
        (["--scene", "quiet-strip", "--seed", "-1"], 2, "'-1' should be a whole number"),
        (["--scene", "quiet-strip", "--seed", "x"], 2, "'x' should be a whole number"),
        (["--scene", "quiet-strip", "--rate-hz", "x"], 2, "argument --rate-hz: 'x' should be from"),
        (["--scene", "quiet-strip", "--port", "70000"], 2, "a whole number, 0 to 65535"),
        (["--sceen", "quiet-strip"], 2, "unrecognized arguments: --sceen"),
        ([*MODBUS, "--registers", "suply-uint16"], 2, "did you mean supply-uint16?"),
        ([*MODBUS, "--unit", "0"], 2, "--unit: '0' should be a whole number, 1 to 247"),
        ([*MODBUS, "--unit", "3", "--unit", "3"], 2, "--unit: the same number stands there twice"),
        ([*MODBUS, "--mute-unit", "2"], 2, "--mute-unit 2: say --unit 2 too"),
        ([*LINES, "--speech", "walker"], 2, "did you mean talker?"),
        ([*LINES, "--faults", "/no/such.toml"], 2, "cannot read the faults file /no/such.toml"),
        ([*LINES, "--fault-rate", "1.5"], 2, "--fault-rate: '1.5' should be from 0 to 1"),
        ([*LINES, "--baud-paced", "1"], 2, "--baud-paced: '1' should be a whole number"),
        (
            ["--scene", "quiet-strip", "--csv", "/no/such.csv"],
            1,
            "cannot write /no/such.csv: No such",
        ),
        (["--scene", "quiet-strip", "--csv", "/dev/full"], 1, "cannot write /dev/full: No space"),
        (
            ["--scene", "quiet-strip", "--link", "scpi-tcp", "--log", "/no/such.log"],
            1,
            "cannot write /no/such.log: No such",
        ),
    ],
)
def test_wrong_use_gets_one_clear_line(
    words: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("simulators: ")
    assert said in err
    assert err.count("\n") == 1


def test_a_wrong_word_in_a_scene_of_the_users_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.toml"
    text = (SCENES / "quiet-strip.toml").read_text(encoding="utf-8")
    path.write_text(text.replace("litres", "liters"), encoding="utf-8")
    assert main(["--scene", str(path), "--csv", "-"]) == 2
    assert capsys.readouterr().err == (
        "simulators: scene mine: [bath]: there is no 'liters'; did you mean litres?\n"
    )


def test_a_full_disk_ends_it_with_one_line_and_not_with_a_wrong_log() -> None:
    words = ["--scene", "quiet-strip", "--link", "scpi-tcp", "--log", "/dev/full"]
    with running(*words) as (process, address):
        assert ask(address, b"*IDN?\n") == b""
        assert process.wait(timeout=10.0) == 1
        assert process.communicate()[1] == (
            "simulators: cannot write /dev/full: No space left on device\n"
        )


def test_several_units_have_an_address_each_and_the_log_tells_faults_and_tags(
    tmp_path: Path,
) -> None:
    log, faults = tmp_path / "talk.jsonl", tmp_path / "faults.toml"
    faults.write_text('[[fault]]\nkind = "exception"\nat_poll = 2\ncode = 6\n', encoding="utf-8")
    words = ["--unit", "1", "--unit", "7", "--tagged", "--faults", str(faults), "--log", str(log)]
    with running(*MODBUS, *words) as (process, address):
        assert process.stdout is not None
        place, _, unit = address.partition("?")
        assert unit == "unit=1"
        assert process.stdout.readline() == f"{place}?unit=7\n"
        host, port = place.removeprefix("modbus:tcp://").split(":")
        with socket.create_connection((host, int(port)), timeout=10.0) as connection:
            for transaction, answer in ((5, "03 04 00 ab 00 ac"), (6, "83 06")):
                read = bytes((0, transaction, 0, 0, 0, 6, 7, 3, 0, 0, 0, 2))
                connection.sendall(read)
                assert connection.recv(100)[7:].hex(" ") == answer
    first, second = (json.loads(line) for line in log.read_text(encoding="utf-8").splitlines())
    # Modbus Application Protocol V1.1b3, 6.3 and 7: 171 and 172 are first questions to unit 7.
    assert first["tags"] == {"volts": 171, "amps": 172}
    assert (first["fault"], first["unit"], first["commands"]) == (None, 7, [])
    assert first["sent"] == "00 05 00 00 00 07 07 03 04 00 ab 00 ac"
    assert (second["fault"], second["sent"]) == ("exception", "00 06 00 00 00 03 07 83 06")
    assert second["answer"].endswith("03 04 01 0f 01 10")


def test_a_port_that_is_taken_is_named() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        words = ["--scene", "quiet-strip", "--link", "scpi-tcp", "--port", port]
        done = subprocess.run([*COMMAND, *words], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == (
        f"simulators: port {port} on 127.0.0.1 is taken; leave --port out, then any free one is "
        "taken\n"
    )


def test_a_word_cut_short_is_not_taken_for_another() -> None:
    assert main(["--scene", "quiet-strip", "--link-nam", "x", "--csv", "-"]) == 2


def test_the_panel_is_told_on_stderr_and_leaves_stdout_to_the_address() -> None:
    words = ["--scene", "two-settings", "--link", "scpi-tcp", "--speed", "20", "--panel"]
    with running(*words) as (process, address):
        assert address.startswith("scpi:tcp://")
        assert process.stderr is not None
        told = [process.stderr.readline().strip() for _ in range(2)]
        process.terminate()
        assert process.wait(timeout=10.0) == 0
    assert told[0].startswith("panel: ")
    assert told[1].endswith(" A")
