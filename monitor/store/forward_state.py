"""How the forwarding of a store stands, for a screen and for a check."""

from pathlib import Path

from monitor.base.errors import NoSuchRun
from monitor.store.forward_rows import ForwardState
from monitor.store.opening import reading
from monitor.store.reader import open_store


def forward_states(path: Path) -> list[ForwardState]:
    """The state of forwarding to each server that this store was ever forwarded to.

    Counts no rows: the backlog is the distance from the first unsent reading to the last one.

    Raises
    ------
    StoreError
        See `open_store`.
    """
    with reading(path) as connection:
        targets = connection.execute(
            "SELECT target, place, sent, left_out, too_old,"
            " (SELECT count(*) FROM forward_quarantine q WHERE q.target = t.target),"
            " last_ok_utc_ns, trouble, trouble_utc_ns FROM forward_targets t ORDER BY target"
        ).fetchall()
        stretches = connection.execute(
            "SELECT target, run, next_place, ends FROM forward_stretches WHERE kind = 'reading'"
        ).fetchall()
    runs = {run for _, run, _, _ in stretches}
    reached = _reached(path, runs)
    behind = dict.fromkeys([target for target, *_ in targets], 0)
    for target, run, next_place, ends in stretches:
        until = reached[run] if ends is None else min(ends, reached[run])
        behind[target] += max(until - next_place, 0)
    return [ForwardState(place, behind[target], *rest) for target, place, *rest in targets]


def quarantined(path: Path) -> list[tuple[str, str]]:
    """The lines that a server refused, the oldest first, each with the server's message."""
    with reading(path) as connection:
        return connection.execute(
            "SELECT line, words FROM forward_quarantine ORDER BY number"
        ).fetchall()


def _reached(path: Path, runs: set[int]) -> dict[int, int]:
    """The place behind the last row of each run."""
    reached = {}
    with open_store(path) as store:
        for run in runs:
            try:
                last = store.run(run).last()
            except NoSuchRun:
                last = None
            reached[run] = 0 if last is None else last.seq + 1
    return reached
