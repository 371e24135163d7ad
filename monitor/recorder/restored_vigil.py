"""The watch of an interrupted run, as it stood when its recorder stopped.

It watches the stored rows once more, with the operator's requests at their times: the end of the
strip, earlier cut-outs, the heat of the conductors, the charge and all that was learned of the bath
are as if the recorder had never stopped. No alarm is raised twice: the stored events say how each
stands.
"""

from collections.abc import Callable
from pathlib import Path

from monitor.recorder.open_run import OpenRun
from monitor.recorder.past_requests import PastRequests
from monitor.store.reader import open_store
from monitor.store.stored_run import StoredRun
from monitor.watch.vigil import Vigil

MOST_ROWS = 18_000
"""An hour at five polls a second; a second or two of work, in which nobody polls. Of older ones the
charge is kept."""

CHARGE_WITHIN_S = 60.0
"""Estimates are stored about once a second, older ones once in five polls."""


def restored_vigil(
    store: Path, begun: OpenRun, make: Callable[[], Vigil], complain: Callable[[str], None]
) -> Vigil:
    """A vigil for a run: a fresh one for a new run, else one that stands as the run left it.

    Parameters
    ----------
    store, begun
        Where the run lies, and how it is taken up.
    make
        Makes a fresh vigil with the settings that are in force now.
    complain
        Called with a sentence where the rows cannot be watched again; the vigil is fresh then.
    """
    vigil, began_t_ns = make(), begun.segment.began_t_ns
    if begun.segment.segment > 0:
        asked: list[str] = []
        try:
            with open_store(store) as opened:
                stored = opened.run(begun.row.run)
                asked = [prompt.prompt for prompt in stored.prompts()]
                watch_again(stored, vigil)
            vigil.go_on(began_t_ns / 1e9, "the recorder went on after an interruption")
        except Exception as failure:
            # Also a bug of ours, met in these very rows: the run must go on all the same.
            complain(f"what was learned of run {begun.row.run} is lost: {failure}")
            vigil = make()
        vigil.have_asked(asked)
    vigil.restore(list(begun.events))
    return vigil


def watch_again(stored: StoredRun, vigil: Vigil) -> None:
    """Let a fresh vigil see the stored rows, the newest `MOST_ROWS` at the most."""
    last = stored.last()
    if last is None:
        return
    after_seq = max(last.seq - MOST_ROWS, -1)
    asked, is_first = PastRequests(stored.requests()), True
    for row in stored.rows(after_seq):
        if is_first and after_seq >= 0:
            before = list(stored.estimates(row.t_s - CHARGE_WITHIN_S, row.t_s))
            if before:
                vigil.begin_with(before[-1].charge, before[-1].t_s)
            asked.pass_over(row.utc_ns)
        is_first = False
        asked.do(vigil, row.utc_ns)
        vigil.update(row)
