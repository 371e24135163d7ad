"""A stored run that is taken up again and a fresh watch in; the watch as it stood, out.

The run's own rows are watched once more, and what the operator asked for is done at its time:
so the end of the strip, what happened so far, earlier cut-outs, the heat of the conductors, the
charge and all that was learned of the bath are as if the recorder had never stopped. Nothing is
told a second time: the alarms stand as their stored events say.
"""

from collections.abc import Callable
from pathlib import Path

from monitor.recorder.asked import Asked
from monitor.recorder.taking_up import TakenUp
from monitor.store.reader import open_store
from monitor.store.stored_run import StoredRun
from monitor.watch.vigil import Vigil

MOST_ROWS = 18_000
"""An hour at five polls a second; a second or two of work, in which nobody polls. Of older ones the
charge is kept."""

CHARGE_WITHIN_S = 60.0
"""Estimates are stored about once a second, older ones once in five polls."""


def remembering(
    store: Path, taken_up: TakenUp, make: Callable[[], Vigil], complain: Callable[[str], None]
) -> Vigil:
    """A vigil for a run: a fresh one for a new run, else one that stands as the run left it.

    Parameters
    ----------
    store, taken_up
        Where the run lies, and how it is taken up.
    make
        Makes a fresh vigil with the settings that are in force now.
    complain
        Called with a sentence where the rows cannot be watched again; the vigil is fresh then.
    """
    vigil, began_t_ns = make(), taken_up.segment.began_t_ns
    if taken_up.segment.segment > 0:
        try:
            with open_store(store) as opened:
                watch_again(opened.run(taken_up.row.run), vigil)
            vigil.go_on(began_t_ns / 1e9, "the recorder went on after an interruption")
        except Exception as failure:
            # Also a bug of ours, met in these very rows: the run must go on all the same.
            complain(f"what was learned of run {taken_up.row.run} is lost: {failure}")
            vigil = make()
    vigil.restore(list(taken_up.events))
    return vigil


def watch_again(stored: StoredRun, vigil: Vigil) -> None:
    """Let a fresh vigil see the stored rows, the newest `MOST_ROWS` at the most."""
    last = stored.last()
    if last is None:
        return
    after_seq = max(last.seq - MOST_ROWS, -1)
    asked, is_first = Asked(stored.requests()), True
    for row in stored.rows(after_seq):
        if is_first and after_seq >= 0:
            before = list(stored.estimates(row.t_s - CHARGE_WITHIN_S, row.t_s))
            if before:
                vigil.begin_with(before[-1].charge, before[-1].t_s)
            asked.pass_over(row.utc_ns)
        is_first = False
        asked.do(vigil, row.utc_ns)
        vigil.update(row)
