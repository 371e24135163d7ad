"""How jobs end with each hand at the knob: a closed loop; `make bench-outcome` writes OUTCOME.md.

    .venv/bin/python -m benchmarks.outcome [--each 25] [--tuning] [--print]

The jobs are drawn from numbers that nothing was tuned on, from 0 on; `--tuning` draws those from
5000 on instead and only prints.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from benchmarks.outcome_jobs import FAMILIES, Job, draw
from benchmarks.outcome_policies import (
    STANDS_SHARE,
    AdviceAtOnce,
    AdviceFollower,
    AlarmFollower,
    DelicateFollower,
    HalfFollower,
    Hand,
    LateFollower,
    Nobody,
    Outcome,
    Threshold,
    TooFarFollower,
    ideal_s,
    play,
)
from benchmarks.page import Figure, table, write

WRITTEN = Path(__file__).with_name("OUTCOME.md")
TUNING = 5000
EACH = 25
REACTIONS_S = (15.0, 60.0, 240.0)
QUIET = ("settles high", "quiet", "quiet swab")
"""Where nobody has to do anything."""
ADVICE, THRESHOLD, ALARM, NOBODY = "advice", "90 % threshold", "alarm, no number", "nobody"
OTHERS = ("does half", "a volt too far", "half a minute late", "at the first word", "delicate part")
DENSE_TOLERANCE = 1.02
"""What a course may be wrong by."""
HANDS: dict[str, Callable[[Job, float], Hand]] = {
    NOBODY: lambda job, reaction_s: Nobody(),
    THRESHOLD: Threshold,
    ALARM: AlarmFollower,
    ADVICE: AdviceFollower,
    OTHERS[0]: HalfFollower,
    OTHERS[1]: TooFarFollower,
    OTHERS[2]: LateFollower,
    OTHERS[3]: AdviceAtOnce,
    OTHERS[4]: DelicateFollower,
}
GOALS = (0.98, 1.035, 1.6)

BELOW = """{jobs} simulated jobs, {each} in each of {n} families, played to their end with a hand at
the knob that needs so long for its way (`benchmarks/outcome_jobs.py`, `outcome_policies.py`). Half
of them are told the charge that the strip takes, give or take 15 %; the litres are told give or
take a tenth; no earlier run is known. Few cut out within five minutes of switching on: a hand that
needs four minutes can do nothing about those.

- finished: jobs that end without a cut-out, of those that cut out where nobody does anything.
- time: against the amps held at 97 % of the limit by a hand that never stops; of the jobs finished.
- moves: of the volts, in a job that would cut out.
- needless: jobs with a move among those of the quiet families ({quiet}).
- advice: the hand sets the volts when the move is due, or as soon after the first word as it can.
- 90 % threshold, alarm without a number: a volt off each time.

"""


@dataclass(frozen=True)
class Played:
    """One job with every hand; `outcomes` by hand and reaction."""

    family: str
    number: int
    limit_amps: float
    ideal_s: float
    outcomes: dict[tuple[str, float], Outcome]

    @property
    def is_hot(self) -> bool:
        """Whether the supply cuts out where nobody does anything."""
        return self.outcomes[NOBODY, 0.0].cut_out


def play_all(family: str, number: int) -> Played:
    """One job, from its beginning for each hand."""
    job = draw(family, number)
    ideal = ideal_s(job)
    outcomes = {(NOBODY, 0.0): play(job, Nobody(), ideal)}
    for name, make in HANDS.items():
        for reaction_s in REACTIONS_S:
            if name == NOBODY or (name in OTHERS and reaction_s != REACTIONS_S[1]):
                continue
            outcomes[name, reaction_s] = play(job, make(job, reaction_s), ideal)
    return Played(family, number, job.plate.limit_amps, ideal, outcomes)


@dataclass(frozen=True)
class Line:
    """One line of the table."""

    finished: int
    hot: int
    time: float
    moves: float
    needless: int
    quiet: int

    @property
    def meets(self) -> bool:
        """Whether the goals are met."""
        share, time, moves = GOALS
        return (
            self.finished >= share * self.hot
            and self.time <= time
            and self.moves <= moves
            and self.needless == 0
        )

    @property
    def cells(self) -> str:
        """As Markdown."""
        return (
            f"{self.finished} of {self.hot} | {self.time:.3f} | {self.moves:.2f} | "
            f"{self.needless} of {self.quiet}"
        )


def line_of(played: Sequence[Played], name: str, reaction_s: float) -> Line:
    """The figures of one hand."""
    hot = [one for one in played if one.is_hot]
    of = [(one.ideal_s, one.outcomes[name, reaction_s]) for one in hot]
    done = [outcome.seconds / ideal for ideal, outcome in of if outcome.finished]
    quiet = [one for one in played if one.family in QUIET]
    return Line(
        len(done),
        len(hot),
        sum(done) / max(len(done), 1),
        sum(outcome.moves for _, outcome in of) / max(len(hot), 1),
        sum(one.outcomes[name, reaction_s].moves > 0 for one in quiet),
        len(quiet),
    )


def tables(played: Sequence[Played]) -> str:
    """All tables of the page."""
    lines = [
        "| hand | reaction | finished | time | moves | needless | |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    lines.append(f"| {NOBODY} | | {line_of(played, NOBODY, 0.0).cells} | |")
    for name in (THRESHOLD, ALARM, ADVICE):
        for reaction_s in REACTIONS_S:
            line = line_of(played, name, reaction_s)
            met = ("met" if line.meets else "NOT MET") if name == ADVICE else ""
            lines.append(f"| {name} | {reaction_s:g} s | {line.cells} | {met} |")
    for name in OTHERS:
        line = line_of(played, name, REACTIONS_S[1])
        lines.append(f"| advice, {name} | {REACTIONS_S[1]:g} s | {line.cells} | |")
    lines += [
        "",
        "By family, the advice at 60 s:",
        "",
        "| family | finished | time | moves | needless |",
    ]
    lines.append("| --- | --- | --- | --- | --- |")
    for family in FAMILIES:
        own = [one for one in played if one.family == family]
        lines.append(f"| {family} | {line_of(own, ADVICE, REACTIONS_S[1]).cells} |")
    for told, numbers in (("charge told", 1), ("charge not told", 0)):
        own = [one for one in played if one.number % 2 == numbers]
        lines.append(f"| ({told}) | {line_of(own, ADVICE, REACTIONS_S[1]).cells} |")
    return "\n".join(lines) + "\n"


def figures_of(played: Sequence[Played]) -> list[Figure]:
    """What was promised, and whether it holds."""
    share, time, moves = GOALS
    figures = []
    for reaction_s in REACTIONS_S:
        line = line_of(played, ADVICE, reaction_s)
        rival = line_of(played, THRESHOLD, reaction_s)
        figures += [
            Figure(
                f"jobs finished, hand of {reaction_s:g} s",
                f"{line.finished} of {line.hot}",
                f"{share:.0%}",
                line.finished >= share * line.hot,
                f"90 % threshold {rival.finished}",
            ),
            Figure(
                f"time against the ideal, hand of {reaction_s:g} s",
                f"{line.time:.3f}",
                f"{time:g}",
                line.time <= time + 0.0005,
                f"90 % threshold {rival.time:.3f}",
            ),
            Figure(
                f"moves a job, hand of {reaction_s:g} s",
                f"{line.moves:.2f}",
                f"{moves:g}",
                line.moves <= moves,
                f"90 % threshold {rival.moves:.2f}",
            ),
            Figure(
                f"quiet jobs with a needless move, hand of {reaction_s:g} s",
                f"{line.needless} of {line.quiet}",
                "none",
                line.needless == 0,
                f"90 % threshold {rival.needless}",
            ),
        ]
    under = slower = raised = 0
    for one in played:
        for reaction_s in REACTIONS_S:
            advised, other = one.outcomes[ADVICE, reaction_s], one.outcomes[THRESHOLD, reaction_s]
            raised += advised.is_raised
            under += advised.lowest_volts < advised.window_volts - 1e-6
            slower += other.finished and advised.seconds > 1.005 * other.seconds
    plays = len(played) * len(REACTIONS_S)
    figures.append(Figure("led under the step's window", f"{under} of {plays}", "none", under == 0))
    figures.append(Figure("led to more volts", f"{raised} of {plays}", "none", raised == 0))
    delicate = [(one, one.outcomes[OTHERS[4], REACTIONS_S[1]]) for one in played]
    moved = [(one.limit_amps, outcome.amps_after) for one, outcome in delicate if outcome.moves]
    over = sum(amps > DENSE_TOLERANCE * STANDS_SHARE * limit for limit, amps in moved)
    figures.append(
        Figure("over the part's density after a move", f"{over} of {len(moved)}", "none", over == 0)
    )
    figures.append(
        Figure("slower than with the 90 % threshold", f"{slower} of {plays}", "none", slower == 0)
    )
    return figures


def main() -> None:
    """Play, print, write."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--each", type=int, default=EACH)
    parser.add_argument("--tuning", action="store_true")
    parser.add_argument("--print", action="store_true", dest="only_prints")
    given = parser.parse_args()
    first = TUNING if given.tuning else 0
    names = [(family, first + n) for family in FAMILIES for n in range(given.each)]
    with ProcessPoolExecutor() as pool:
        played = list(pool.map(play_all, *zip(*names, strict=True)))
    figures, below = figures_of(played), tables(played)
    sys.stdout.write(f"{table(figures)}\n\n{below}")
    for one in played:
        for (name, reaction_s), outcome in one.outcomes.items():
            rival = one.outcomes[THRESHOLD, reaction_s] if name == ADVICE else None
            if rival is not None and (
                not outcome.finished or (rival.finished and outcome.seconds > 1.005 * rival.seconds)
            ):
                job = f"{one.family}/{one.number} at {reaction_s:g} s"
                sys.stdout.write(f"{job}, ideal {one.ideal_s}: {outcome} {rival}\n")
    if not (given.tuning or given.only_prints):
        head = BELOW.format(
            jobs=len(played), each=given.each, n=len(FAMILIES), quiet=", ".join(QUIET)
        )
        write(WRITTEN, "How jobs end", "make bench-outcome", figures, head + below)


if __name__ == "__main__":
    main()
