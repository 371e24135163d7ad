"""Instruments of other makers: commissioned by what is proposed, recorded, held against the truth.

    python -m benchmarks.instruments [--clean-s 30] [--faults-s 120] [--only TEXT] [--to PAGE]

One row an instrument of `tests/drivers/instruments/`, none of them written with our simulators.
"""

import argparse
import os
import platform
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import repeat
from pathlib import Path

from benchmarks.page import Figure, write_text
from tests.drivers.instruments.audit import is_question
from tests.drivers.instruments.catalogue import all_instruments
from tests.drivers.instruments.instrument import wired
from tests.drivers.instruments.trial import Recorded, commissioned, recorded

POLL_S = 0.2
TIMEOUT_S = 0.2
SIDE_BY_SIDE = 16
"""They mostly wait: each takes a few percent of a processor. All then take a quarter of an hour."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one instrument went."""

    name: str
    is_found: bool
    is_commissioned: bool
    needs_flags: bool
    clean: Recorded
    spoilt: Recorded
    questions: int
    commands: int
    said: str

    @property
    def is_first_try(self) -> bool:
        """By what was proposed and the prompts alone, and recorded."""
        return self.is_found and self.is_commissioned and not self.needs_flags and self.is_recorded

    @property
    def is_recorded(self) -> bool:
        """The clean polls brought good values and hardly a gap."""
        polls = self.clean.good + self.clean.suspect + self.clean.gaps.total()
        return self.clean.good > 0.9 * polls

    @property
    def row(self) -> str:
        """A row of the table."""
        yes = {True: "yes", False: "NO"}
        wrong = len(self.clean.wrong) + len(self.spoilt.wrong)
        return (
            f"| {self.name} | {yes[self.is_found]} | {yes[self.is_commissioned]} | "
            f"{yes[self.is_recorded]} | {self.clean.good} good, {self.clean.suspect} suspect, "
            f"{self.clean.gaps.total()} gaps | {self.spoilt.good} good, {self.spoilt.suspect} "
            f"suspect, {self.spoilt.gaps.total()} gaps | {wrong} | {self.commands} of "
            f"{self.questions} |"
        )

    @property
    def figure(self) -> Figure:
        """Its row of the page of results."""
        wrong = len(self.clean.wrong) + len(self.spoilt.wrong)
        measured = (
            f"{'commissioned' if self.is_commissioned else 'not commissioned'}; {wrong} wrong "
            f"values; {self.commands} of {self.questions} messages were no question"
        )
        return Figure(f"instrument: {self.name}", measured)


def tried(number: int, clean_s: float, faults_s: float) -> Outcome:
    """The trial of one instrument, by its place in the catalogue."""
    instrument = all_instruments()[number]
    with (
        wired(instrument, TIMEOUT_S, seed=number + 1) as bench,
        tempfile.TemporaryDirectory() as to,
    ):
        made = commissioned(bench, Path(to))
        clean = spoilt = Recorded()
        if made.file is not None:
            clean = recorded(bench, made, clean_s, POLL_S, TIMEOUT_S, has_faults=False)
            spoilt = recorded(bench, made, faults_s, POLL_S, TIMEOUT_S, has_faults=True)
    came = bench.end.received
    commands = sum(not is_question(data, instrument.questions) for data in came)
    return Outcome(
        instrument.name,
        made.is_found,
        made.file is not None,
        bool(instrument.flags),
        clean,
        spoilt,
        len(came),
        commands,
        "" if made.file is not None else made.said.strip().splitlines()[-1],
    )


def page(outcomes: list[Outcome], command: str, clean_s: float, faults_s: float) -> str:
    """The page with the table."""
    rows = "\n".join(outcome.row for outcome in outcomes)
    first = sum(outcome.is_first_try for outcome in outcomes)
    wrong = sum(len(each.clean.wrong) + len(each.spoilt.wrong) for each in outcomes)
    commands = sum(outcome.commands for outcome in outcomes)
    machine = f"{os.cpu_count()} cores {platform.machine()}, Python {platform.python_version()}"
    return (
        "# Instruments of other makers\n\n"
        f"{machine}, {datetime.now(UTC):%Y-%m-%d}, by `{command}`. None is written with our own "
        "simulators: registers are served by pyModbusTCP, modbus-tk, uModbus and the server of "
        "pymodbus, text by raw sockets and pseudo-terminals (`tests/drivers/instruments/`).\n\n"
        f"**{len(outcomes)} instruments: {first} at the first try by `find` and the prompts "
        f"alone; {wrong} wrong values of quality good; {commands} messages sent that were no "
        "question.**\n\n"
        f"Each is found, commissioned at two settings of its panel, recorded for {clean_s:g} s "
        f"and then for {faults_s:g} s with a fault at one answer in eight (torn, late, doubled, "
        "foreign bytes, silence, stalls longer than four time-outs, resets). Every good value is "
        "held against what was measured for that quantity within its poll; both quantities move "
        "all the time and share no value.\n\n"
        "| instrument | `find` proposes the command | commissioned | recorded | clean | with "
        "faults | wrong values | no question |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n"
        f"{rows}\n"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clean-s", type=float, default=30.0)
    parser.add_argument("--faults-s", type=float, default=120.0)
    parser.add_argument("--only", default="", help="those whose name holds this")
    parser.add_argument("--to", type=Path, help="write the page here")
    asked = parser.parse_args()
    names = [instrument.name for instrument in all_instruments()]
    chosen = [number for number, name in enumerate(names) if asked.only in name]
    outcomes = []
    with ProcessPoolExecutor(SIDE_BY_SIDE) as pool:
        for outcome in pool.map(tried, chosen, repeat(asked.clean_s), repeat(asked.faults_s)):
            print(outcome.row, flush=True)
            for words in (*outcome.clean.wrong[:5], *outcome.spoilt.wrong[:5], outcome.said):
                if words:
                    print(f"    {words}", flush=True)
            outcomes.append(outcome)
    if asked.to is not None:
        shown = f"python -m benchmarks.instruments {' '.join(sys.argv[1:])}".strip()
        is_whole = not asked.only and (asked.clean_s, asked.faults_s) == (30.0, 120.0)
        command = "make bench-instruments" if is_whole else shown
        text = page(outcomes, command, asked.clean_s, asked.faults_s)
        write_text(asked.to, text, command, [outcome.figure for outcome in outcomes])
    sys.exit(any(each.clean.wrong or each.spoilt.wrong or each.commands for each in outcomes))


if __name__ == "__main__":
    main()
