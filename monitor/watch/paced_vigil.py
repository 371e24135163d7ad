"""A watch that learns how far apart the rows come, while they come."""

from collections.abc import Callable

from monitor.model.alarm import AlarmEvent, Change
from monitor.model.event import Prompt
from monitor.model.ranges import POLL_S
from monitor.model.sample import Gap, Sample
from monitor.watch.vigil import Verdict, Vigil

LOOKED_AT = (2, 3, 5, 9, 17, 33)
"""Rows at whose number the pace is looked at anew."""
OTHER_PACE = 1.25
"""A watch made for another pace by more than this factor is made anew."""
SHORTEST_S = 0.01


class PacedVigil:
    """A `Vigil` for rows whose pace nobody has told.

    A watch is made for its poll interval. Where the first rows show another one, a new watch takes
    them over. What it says of them and the old one had not said comes with the next row.

    Parameters
    ----------
    watch_at
        Makes a watch for a poll interval in seconds.
    """

    def __init__(self, watch_at: Callable[[float], Vigil]) -> None:
        self._watch_at = watch_at
        self._poll_s = POLL_S
        self._vigil = watch_at(POLL_S)
        self._rows: list[Sample | Gap] = []
        self._told: set[tuple[str, Change | None]] = set()

    def update(self, row: Sample | Gap, step_s: float | None) -> Verdict:
        """Take the next row, and the usual seconds between rows as far as they are known."""
        if len(self._rows) >= LOOKED_AT[-1]:
            return self._vigil.update(row)
        events: tuple[AlarmEvent, ...] = ()
        prompts: tuple[Prompt, ...] = ()
        if len(self._rows) + 1 in LOOKED_AT and step_s is not None:
            poll_s = max(step_s, SHORTEST_S)
            if not 1.0 / OTHER_PACE <= poll_s / self._poll_s <= OTHER_PACE:
                self._poll_s, self._vigil = poll_s, self._watch_at(poll_s)
                for earlier in self._rows:
                    verdict = self._vigil.update(earlier)
                    events += verdict.events
                    prompts += verdict.prompts
                events = tuple(one for one in events if (one.alarm, one.change) not in self._told)
                prompts = tuple(one for one in prompts if (one.prompt, None) not in self._told)
        self._rows.append(row)
        verdict = self._vigil.update(row)
        events, prompts = events + verdict.events, prompts + verdict.prompts
        self._told |= {(one.alarm, one.change) for one in events}
        self._told |= {(one.prompt, None) for one in prompts}
        return verdict._replace(events=events, prompts=prompts)
