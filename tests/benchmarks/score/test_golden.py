"""A small part of the forecast's benchmark, figure by figure: a change that moves one shows here.

After a change that is meant to move them, run with BATHVIGIL_REDRAW=1, look at the difference, and
write the large table anew too (make bench-forecast).
"""

import os
from pathlib import Path

from benchmarks.forecast import HOLD_OUT, PRODUCT, judge_product, rows_by_family, work
from benchmarks.score.table import table

GOLDEN = Path(__file__).with_name("golden.md")
RUNS = 2


def test_the_figures_are_those_that_were_reviewed() -> None:
    judged = work(judge_product, HOLD_OUT, RUNS, processes=1)
    written = table("family", rows_by_family(judged, PRODUCT))
    if os.environ.get("BATHVIGIL_REDRAW"):
        GOLDEN.write_text(written, encoding="utf-8")
    assert written == GOLDEN.read_text(encoding="utf-8")
