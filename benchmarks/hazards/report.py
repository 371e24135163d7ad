"""Writes benchmarks/HAZARDS.md and the same as JSON."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from benchmarks.hazards.names import ALARMS, PROMPTS
from benchmarks.hazards.score import QuietScore, RowScore
from benchmarks.page import Figure, machine, table, write_text

PAGE = Path(__file__).parents[1] / "HAZARDS.md"
COMMAND = "make bench-hazards"

HEAD = """# What is said when something goes wrong at the bench

Written by `{command}` on {machine}; do not edit. `python -m benchmarks.hazards --row A14` plays one
row and prints what was said where it was wrong.

Each row is a deviation at the bench, from physics other than the estimators'
(`benchmarks/hazards/`), played over {draws} draws of limit, volts, intercept, noise, resolution and
rate (seed {seed}), through the estimators and alarms of the recorder. A draw is right where all
that must be said is said in time, with its priority and the first words of its action, and nothing
that must not be. The delay is from the event to the first thing that had to be said.

"""


def write(scores: Sequence[RowScore], quiet: QuietScore, draws: int, seed: int) -> None:
    """Write both files."""
    total = totals(scores, quiet)
    write_text(
        PAGE,
        page(total, scores, quiet, draws, seed),
        COMMAND,
        total,
        draws=draws,
        seed=seed,
        rows={score.row: asdict(score) for score in scores},
        quiet=asdict(quiet),
    )


def totals(scores: Sequence[RowScore], quiet: QuietScore) -> list[Figure]:
    """The figures over all rows and quiet hours."""
    met = sum(score.is_met for score in scores)
    right, all_draws = sum(s.right for s in scores), sum(s.draws for s in scores)
    total = [
        Figure(
            "rows told right in 98 % of their draws",
            f"{met} of {len(scores)}",
            f"{len(scores)}",
            met == len(scores),
        ),
        Figure("draws told right, all rows", f"{right / all_draws:.0%}"),
    ]
    wrong = [name for name, count in quiet.false.items() if count > max(quiet.most, 1.0)]
    total.append(
        Figure(
            f"names that are false more than once in 50 h, in {quiet.hours:.0f} quiet hours",
            str(len(wrong)),
            "0",
            not wrong,
            ", ".join(wrong),
        )
    )
    return total


NOT_PLAYED = """\
Not played: set values read for measured ones (M3), and a wrong scale (M4). No scene can show them,
since readings are all that a scene has. Commissioning holds the readings against the panel and
refuses both; `tests/monitor/setup/commission/test_line_pattern.py` and `test_candidates.py` there
try it. What no meter sees (P3) is asked on the start card."""


def page(
    total: Sequence[Figure], scores: Sequence[RowScore], quiet: QuietScore, draws: int, seed: int
) -> str:
    """The whole of HAZARDS.md."""
    lines = [
        "| row | at the bench | right | of | delay, s | worst, s | commonest fault |",
        "| --- | --- | ---: | ---: | ---: | ---: | --- |",
    ]
    for score in scores:
        cells = (score.row, score.title, score.right, score.draws, *_delays(score), score.missed)
        lines.append(f"| {' | '.join(str(cell).replace('|', '/') for cell in cells)} |")
    names = [alarm.name for alarm in ALARMS] + [prompt.name for prompt in PROMPTS]
    names += sorted(set(quiet.false) - set(names))
    false = ["| alarm or prompt | false |", "| --- | ---: |"]
    false += [f"| {name} | {quiet.false.get(name, 0)} |" for name in names]
    head = HEAD.format(command=COMMAND, machine=machine(), draws=draws, seed=seed)
    return (
        f"{head}{table(total)}\n\n## Rows\n\n" + "\n".join(lines) + f"\n\n{NOT_PLAYED}\n\n"
        "## Quiet hours\n\n"
        "Steady strips, slow rises, volts turned by hand, swab strokes, parts hung in with the "
        f"output off, agitation, normal ends, a coarse meter: {quiet.hours:.0f} h "
        "(`benchmarks/hazards/quiet.py`).\n\n" + "\n".join(false) + "\n"
    )


def _delays(score: RowScore) -> tuple[str, str]:
    if score.delay_s is None or score.worst_s is None:
        return "-", "-"
    return f"{max(score.delay_s, 0.0):.1f}", f"{max(score.worst_s, 0.0):.1f}"
