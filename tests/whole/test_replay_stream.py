"""`bathvigil replay -` as a process: any logger can be piped in."""

import json
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import IO, cast

from tests.whole.processes import PATIENCE_S, command_line

HEADER = b"t_s,volts,amps\n"
LINE = command_line("replay", "-", "--limit-amps", "10", "--forecast-every", "0", "--json")


@contextmanager
def replaying() -> Iterator[tuple["subprocess.Popen[bytes]", IO[bytes], IO[bytes]]]:
    pipe = subprocess.PIPE
    with subprocess.Popen(LINE, stdin=pipe, stdout=pipe, stderr=pipe, bufsize=0) as process:
        yield process, cast(IO[bytes], process.stdin), cast(IO[bytes], process.stdout)
        process.kill()


def test_each_row_is_answered_before_the_next_one_is_written() -> None:
    with replaying() as (process, to, answers):
        to.write(HEADER)
        for t_s in (0, 1, 2, 3, 40, 41):
            to.write(b"%d,7,5.1\n" % t_s)
            kinds: list[str] = []
            while not kinds or kinds[-1] != "forecast":
                line = json.loads(answers.readline())
                kinds.append(line["kind"])
            assert line["t_s"] == t_s
        to.close()
        assert json.loads(answers.readline())["kind"] == "summary"
        assert answers.read() == b""
        assert process.wait(PATIENCE_S) == 0


def test_a_reader_that_goes_away_ends_it_without_a_word() -> None:
    with replaying() as (process, to, answers):
        to.write(HEADER + b"0,7,5\n")
        answers.readline()
        answers.close()
        with suppress(BrokenPipeError):
            for t_s in range(1, 20_000):
                to.write(b"%d,7,5\n" % t_s)
        assert process.wait(PATIENCE_S) == 1
        assert process.stderr is not None
        assert process.stderr.read() == b""


def test_broken_lines_are_told_and_an_empty_input_is_an_error() -> None:
    done = subprocess.run(
        LINE, input=HEADER + b"0,7,5\n1,x,5\n2,7", capture_output=True, check=False
    )
    assert done.returncode == 0
    assert done.stderr.startswith(b"bathvigil: line 3 is left out: volts is 'x'")
    done = subprocess.run(LINE, input=b"", capture_output=True, check=False)
    assert done.returncode == 2
    assert done.stderr.count(b"\n") == 1
    assert b"t_s" in done.stderr
