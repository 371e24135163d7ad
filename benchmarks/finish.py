"""`make bench-finish`: how the end of a strip is told, family by family, into FINISH.md.

Told in time: after the first chromium has gone and within three minutes of its end. Beside the
product stand what a user would take: the weighted moving average of NIST's handbook, and river's
ADWIN, both over the amps of six seconds.
"""

import sys
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from multiprocessing import Pool
from pathlib import Path
from statistics import mean, median, stdev

from river.drift import ADWIN

from benchmarks.ewma_chart import EwmaChart
from benchmarks.finish_runs import SWAB, TANK, FinishRun, draw_finish, play_finish
from benchmarks.page import Figure, machine, write_text
from monitor.model.run import LimitKind, RunFacts
from monitor.watch.vigil import Vigil

TO = Path(__file__).with_name("FINISH.md")
RUNS = 40
HOLD_OUT = 50_000
"""Numbers of the runs that nothing was tuned on."""
QUIET = ("stable", "settles high", "chromate only", "tank rise", "brush stable", "brush rise")
LATE_S = 180.0
MEAN_S = 6.0
LEARN = 20
METHODS = ("bathvigil", "EWMA chart", "river ADWIN")


@dataclass
class Score:
    """What became of one family by one method."""

    ends: int = 0
    in_time: int = 0
    early: int = 0
    others: int = 0
    hours: float = 0.0
    late_s: list[float] = field(default_factory=list)

    def add(self, run: FinishRun, told_s: list[float]) -> None:
        """Take what was told of one run."""
        self.hours += run.hours
        if run.gone_s is None or run.bared_s is None:
            self.others += len(told_s)
            return
        self.ends += 1
        self.early += any(t_s < run.bared_s for t_s in told_s)
        good = [t_s for t_s in told_s if run.bared_s <= t_s <= run.gone_s + LATE_S]
        if good:
            self.in_time += 1
            self.late_s.append(good[0] - run.gone_s)

    @property
    def cells(self) -> tuple[str, ...]:
        """One half of the table's row."""
        if not self.ends:
            return "-", "-", f"{self.others} in {self.hours:.1f} h", "-"
        late = f"{median(self.late_s):+.0f}" if self.late_s else "-"
        return f"{self.in_time} of {self.ends}", f"{self.early}", "-", late

    @property
    def words(self) -> str:
        """The same in words, without the delay."""
        names = ("in time", "early", "told where nothing ends")
        cells = zip(self.cells, names, strict=False)
        return ", ".join(f"{cell} {name}" for cell, name in cells if cell != "-")


def told_by_product(run: FinishRun) -> list[float]:
    """Times of the prompt; the operator goes on each time, as if it had been none."""
    plate = run.drawn.scene.supply
    facts = RunFacts(
        "bench-1",
        "",
        plate.limit_amps,
        LimitKind(plate.at_limit),
        poll_s=1.0 / run.drawn.rate_hz,
    )
    vigil, signals_s = Vigil(facts), []
    for row in run.rows:
        prompts = vigil.update(row).prompts
        signals_s += [prompt.t_s for prompt in prompts if prompt.prompt == "strip-looks-finished"]
    return signals_s


def told_by_chart(run: FinishRun) -> list[float]:
    """A chart whose target and spread are those of the first two minutes; anew after each."""
    signals_s, learnt, chart = [], [], None
    for t_s, amps in means(run):
        if chart is None:
            learnt.append(amps)
            if len(learnt) == LEARN:
                chart = EwmaChart(mean(learnt), max(stdev(learnt), 1e-6))
                learnt = []
        elif chart.update(amps):
            signals_s.append(t_s)
            chart = None
    return signals_s


def told_by_adwin(run: FinishRun) -> list[float]:
    """River's adaptive window with its own defaults, over amps as a share of the limit."""
    detector, signals_s = ADWIN(), []
    for t_s, amps in means(run):
        detector.update(amps / run.drawn.scene.supply.limit_amps)
        if detector.drift_detected:
            signals_s.append(t_s)
    return signals_s


def means(run: FinishRun) -> Iterator[tuple[float, float]]:
    """Mean amps of every six seconds in which current flowed, from half a minute on."""
    kept: deque[float] = deque()
    until_s = 30.0
    for row in run.rows:
        if row.t_s >= until_s:
            if kept:
                yield until_s, mean(kept)
            kept.clear()
            until_s += MEAN_S
        if row.amps is not None and row.amps > 0.02 * run.drawn.scene.supply.limit_amps:
            kept.append(row.amps)


def work(item: tuple[str, int]) -> tuple[str, dict[str, Score]]:
    """One run by every method."""
    family, number = item
    run = play_finish(draw_finish(family, number))
    scores = {}
    for method, tell in zip(METHODS, (told_by_product, told_by_chart, told_by_adwin), strict=True):
        scores[method] = Score()
        scores[method].add(run, tell(run))
    return family, scores


def score(runs: int, first: int, processes: int = 2) -> dict[str, dict[str, Score]]:
    """Every family by every method."""
    items = [(family, first + n) for family in (TANK, SWAB, *QUIET) for n in range(runs)]
    whole: dict[str, dict[str, Score]] = {}
    with Pool(processes) as pool:
        for family, scores in pool.imap(work, items):
            kept = whole.setdefault(family, {method: Score() for method in METHODS})
            for method, part in scores.items():
                total = kept[method]
                total.ends += part.ends
                total.in_time += part.in_time
                total.early += part.early
                total.others += part.others
                total.hours += part.hours
                total.late_s += part.late_s
    return whole


def as_text(whole: dict[str, dict[str, Score]]) -> str:
    """The page."""
    lines = [
        "# The end of a strip",
        "",
        f"`make bench-finish` on {machine()}. {RUNS} runs a family on numbers that nothing was "
        "tuned on.",
        "In time: after the first chromium is gone and within three minutes of its end; early: "
        "before; late: median seconds after the end.",
        "bathvigil prompts once a strip; the others begin anew after each signal.",
        "",
        "| family | method | in time | early | told where nothing ends | late |",
        "| --- | --- | ---: | ---: | ---: | ---: |",
    ]
    lines += [
        f"| {family} | {method} | {' | '.join(score.cells)} |"
        for family, scores in whole.items()
        for method, score in scores.items()
    ]
    return "\n".join(lines) + "\n"


def figures_of(whole: dict[str, dict[str, Score]]) -> list[Figure]:
    """Ours of each family of strips, beside what the other methods told of it."""
    figures = []
    for family, scores in whole.items():
        (ours, own), *others = scores.items()
        against = "; ".join(f"{method} {rival.words}" for method, rival in others)
        figures.append(Figure(f"{ours}, {family}", own.words, against=against))
    return figures


def main() -> int:
    """Score and write the page."""
    whole = score(RUNS, HOLD_OUT)
    return write_text(TO, as_text(whole), "make bench-finish", figures_of(whole))


if __name__ == "__main__":
    sys.exit(main())
