"""How the recorder's own parts stand in; a few capital words for the head of a screen out.

Nothing is said while all is well.
"""

from collections.abc import Iterable, Mapping

from monitor.model.event import Status
from monitor.store.forward_rows import ForwardState

BEHIND_FROM = 3_000
"""Readings that a server may lack before it is worth a word: ten minutes at 5 Hz."""


def badges(
    statuses: Mapping[str, Status], forward: Iterable[ForwardState] = ()
) -> tuple[tuple[str, bool], ...]:
    """Each with True where it has failed, False where it is only not known.

    Examples
    --------
    >>> badges({"sound": Status("sound", 0, "SOUND NOT CHECKED: aplay", None)})
    (('SOUND NOT CHECKED', False),)
    """
    said = []
    for status in statuses.values():
        if status.is_well is not True:
            failed = status.is_well is False
            named = status.text.partition(":")[0]
            text = named if named.isupper() else f"{status.name.upper()}: {named}"
            said.append((text, failed))
    for state in forward:
        waits = state.trouble_utc_ns is not None and (
            state.last_ok_utc_ns is None or state.trouble_utc_ns > state.last_ok_utc_ns
        )
        if waits and state.behind:
            said.append((f"COPY TO THE SERVER WAITS: {state.behind} behind", True))
        elif state.behind > BEHIND_FROM:
            said.append((f"COPY IS {state.behind} BEHIND", False))
    return tuple(said)
