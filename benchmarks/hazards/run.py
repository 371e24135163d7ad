"""Plays every row over many draws, and quiet hours beside them; writes benchmarks/HAZARDS.md.

    .venv/bin/python -m benchmarks.hazards [--row A14 ...] [--quiet-hours 50] [--draws 50]
                                           [--seed 0] [--processes 1]

With `--row` (or `--row quiet`) only these are played, and each draw that went wrong is printed with
what was said of it. Nothing is written then, and nothing with `--print`.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field

from benchmarks.hazards.chain import fast
from benchmarks.hazards.draw import draw
from benchmarks.hazards.judge import Outcome, judge
from benchmarks.hazards.quiet import QUIET
from benchmarks.hazards.report import write
from benchmarks.hazards.rows import ROWS
from benchmarks.hazards.said import Said, said_of
from benchmarks.hazards.score import QuietScore, RowScore

DRAWS = 50
QUIET_HOURS = 50.0
BATCH = 40
"""Quiet scenes of one call of a process."""


@dataclass(slots=True)
class QuietPlay:
    """What some quiet scenes brought."""

    seconds: float = 0.0
    false: Counter[str] = field(default_factory=Counter)
    lines: list[str] = field(default_factory=list)


def play(row: str, number: int, seed: int = 0) -> Outcome:
    """One draw of one row, through the program's own chain."""
    played = ROWS[row].scene(draw(row, number, seed))
    return judge(ROWS[row], played, fast(played))


def play_quiet(number: int, seed: int = 0) -> tuple[float, str, list[Said]]:
    """One quiet scene: its seconds, its name, and the false things that were said."""
    scene = QUIET[number % len(QUIET)]
    drawn = draw(scene.name, number, seed)
    drawn.poll_at_most(4.0 if number % 4 == 0 else 1.0)
    played = scene.play(drawn)
    messages = said_of(fast(played))
    false = [
        message
        for message in messages
        if message.is_false_when_quiet and message.name not in scene.may_say
    ]
    return played.seconds, scene.name, false


def row_score(row: str, draws: int, seed: int) -> RowScore:
    """One row over all its draws."""
    began_s = time.perf_counter()
    outcomes = [play(row, number, seed) for number in range(draws)]
    return RowScore.of(row, ROWS[row].title, outcomes, time.perf_counter() - began_s)


def quiet_batch(first: int, seed: int) -> QuietPlay:
    """Some quiet scenes."""
    total = QuietPlay()
    for number in range(first, first + BATCH):
        seconds, name, false = play_quiet(number, seed)
        total.seconds += seconds
        total.false.update(message.name for message in false)
        total.lines += [f"{name} {number}: {message.line.strip()}" for message in false]
    return total


def quiet_score(hours: float, seed: int) -> tuple[QuietScore, list[str]]:
    """Quiet scenes until they make up so many hours."""
    total = QuietPlay()
    first = 0
    while total.seconds < hours * 3600.0:
        more = quiet_batch(first, seed)
        total.seconds += more.seconds
        total.false += more.false
        total.lines += more.lines
        first += BATCH
    return QuietScore(total.seconds / 3600.0, dict(total.false)), total.lines


def main() -> int:
    """Run from the command line; 1 where a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--row", nargs="+", choices=[*ROWS, "quiet"], help="only these; prints")
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--quiet-hours", type=float, default=QUIET_HOURS)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--print", action="store_true", help="write nothing")
    chosen = parser.parse_args()
    if chosen.row:
        return _closely(chosen.row, chosen.draws, chosen.seed, chosen.quiet_hours)
    scores = []
    for score in _scores(chosen.draws, chosen.seed, chosen.processes):
        print(score.line, flush=True)
        scores.append(score)
    quiet, _ = quiet_score(chosen.quiet_hours, chosen.seed)
    print(quiet.line)
    if not chosen.print:
        write(scores, quiet, chosen.draws, chosen.seed)
    return int(not (quiet.is_met and all(score.is_met for score in scores)))


def _scores(draws: int, seed: int, processes: int) -> Iterator[RowScore]:
    count = len(ROWS)
    if processes == 1:
        yield from map(row_score, ROWS, [draws] * count, [seed] * count)
        return
    with ProcessPoolExecutor(processes) as pool:
        yield from pool.map(row_score, ROWS, [draws] * count, [seed] * count)


def _closely(rows: list[str], draws: int, seed: int, quiet_hours: float) -> int:
    """Play a few rows, and print each draw that went wrong."""
    is_met = True
    for row in rows:
        if row == "quiet":
            quiet, lines = quiet_score(quiet_hours, seed)
            print(*lines, quiet.line, sep="\n")
            is_met &= quiet.is_met
            continue
        began_s = time.perf_counter()
        outcomes = [play(row, number, seed) for number in range(draws)]
        for number, outcome in enumerate(outcomes):
            if outcome.faults:
                print(f"\n{row} draw {number}:", *outcome.faults, sep="\n  - ")
                print(*(f"    {message.line}" for message in outcome.said), sep="\n")
        score = RowScore.of(row, ROWS[row].title, outcomes, time.perf_counter() - began_s)
        print(score.line)
        is_met &= score.is_met
    return int(not is_met)


if __name__ == "__main__":
    sys.exit(main())
