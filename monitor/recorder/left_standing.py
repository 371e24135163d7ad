"""Alarms that nobody had acknowledged when an earlier run of a supply ended.

Whatever ended that run, and whatever is asked of the supply now: the next run takes them over.
"""

from collections.abc import Iterator
from pathlib import Path

from drivers.address import parse_address
from drivers.errors import BadAddress
from drivers.link.port_names import line_of
from monitor.model.alarm import AlarmEvent, Change, State
from monitor.model.run import RunRow
from monitor.recorder.lock import plain_place, unit_of
from monitor.store.reader import open_store
from monitor.store.stored_run import StoredRun

UNSEEN = (State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)


def left_standing(store: Path, run: RunRow) -> list[tuple[int, AlarmEvent]]:
    """The last raise of each such alarm, with its run; the oldest first.

    Looked for in the newest earlier run of the supply's name, and in the newest at its address,
    however it was written. Runs without a row took nothing over, and are passed.

    Raises
    ------
    StoreError
    """
    place = _place(run.facts.address)
    left: dict[str, tuple[int, AlarmEvent]] = {}
    with open_store(store) as opened:
        earlier = [row for row in opened.runs() if row.run < run.run]
        by_name = (row for row in earlier[::-1] if row.facts.supply == run.facts.supply)
        by_place = (row for row in earlier[::-1] if _place(row.facts.address) == place)
        for rows in (by_name, by_place):
            stored = next((one for row in rows if (one := opened.run(row.run)).last()), None)
            if stored is not None:
                left.update({event.alarm: (stored.run, event) for event in _unseen(stored)})
    return sorted(left.values(), key=lambda each: (each[0], each[1].t_ns))


def _unseen(stored: StoredRun) -> Iterator[AlarmEvent]:
    standing = {event.alarm for event in stored.standing_alarms() if event.state in UNSEEN}
    raised = {event.alarm: event for event in stored.alarms() if event.change is Change.RAISED}
    return (event for alarm, event in raised.items() if alarm in standing)


def _place(text: str) -> str:
    """One text for all spellings of an address that can be told without asking a name server."""
    try:
        address = parse_address(text)
    except BadAddress:
        return text
    if address.host is None:
        return line_of(address)
    return f"{plain_place(address.host)}:{address.port}/{unit_of(address)}"
