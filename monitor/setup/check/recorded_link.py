"""A store that is recorded into and an address in, what the recorder last said of that link out."""

from pathlib import Path

from monitor.base.errors import StoreError
from monitor.recorder.link_watch import LINK
from monitor.store.reader import open_store


def recorded_link(store: Path, address: str) -> str | None:
    """The newest words on the link of the run that goes on at an address; None for none.

    A recorder tells of a link only where something changed: the words may be minutes old.
    """
    try:
        with open_store(store) as opened:
            for row in reversed(opened.runs()):
                if row.facts.address == address and row.ended_utc_ns is None:
                    status = opened.run(row.run).statuses().get(LINK)
                    return None if status is None else status.text
    except StoreError:
        return None
    return None
