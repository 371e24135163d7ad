"""A status of each run that says how its link does, stored where that changes.

Rules, each with its test:

1. A supply that takes longer for a reply than lies between two polls is slow: that, and the rate
   that it allows, is said instead of letting polls be missed without a word.
2. Since the last look one answer in twenty came late or could not be understood, and three at
   least: the link is poor.
3. Else all is well; the words are kept all the same, for whoever looks the run up later.
4. A new word is stored where the verdict changes, or the driver has something new to tell; and at
   the end.
"""

from collections.abc import Callable, Mapping

from drivers.base.clock import Clock
from drivers.link_standing import LinkStanding, link_standing
from monitor.model.event import Status
from monitor.recorder.watched import Watched
from monitor.text.badges import LINK_POOR, SUPPLY_SLOW
from monitor.watch.vigil import Vigil

LINK = "link"
"""Name of the status."""
WELL = "link"
LOOK_EVERY_S = 20.0
POOR_SHARE = 0.05
POOR_LEAST = 3


class LinkJudge:
    """Judges one run's link, look after look.

    Parameters
    ----------
    poll_s
        How often its supply is asked, seconds of real time.
    """

    def __init__(self, poll_s: float) -> None:
        self._poll_s = poll_s
        self._asked = self._troubles = 0
        self._told: tuple[str, int] | None = None

    def look(self, standing: LinkStanding, is_last: bool = False) -> tuple[str, bool | None] | None:
        """Words and whether all is well; None where there is nothing new to tell."""
        asked = 0 if standing.tally is None else standing.tally.asked
        more, troubles = asked - self._asked, standing.troubles - self._troubles
        self._asked, self._troubles = asked, standing.troubles
        words = standing.words(self._poll_s)
        if not words:
            return None
        median_s = None if standing.times is None else standing.times.median_s
        verdict = WELL
        if median_s is not None and median_s > self._poll_s:
            verdict = SUPPLY_SLOW
        elif troubles >= POOR_LEAST and troubles >= POOR_SHARE * more:
            verdict = LINK_POOR
            words = f"{troubles} of the last {more} answers late or unreadable; {words}"
        news = (verdict, len(standing.notices))
        if news == self._told and not is_last:
            return None
        self._told = news
        # Nothing has failed: None has it shown, but not as a failure.
        is_well = True if verdict == WELL else None
        return "; ".join((f"{verdict}: {words}", *standing.notices)), is_well


class LinkWatch:
    """Looks at the links of one recorder's runs, in the polling threads between two polls.

    Parameters
    ----------
    watched
        The runs.
    note
        Takes a run's status; called from any thread.
    """

    def __init__(
        self, watched: Mapping[int, Watched], real: Clock, note: Callable[[int, Status], None]
    ) -> None:
        self._watched = watched
        self._real = real
        self._note = note
        self._judges: dict[int, LinkJudge] = {}

    def look(self) -> None:
        """Have each run's link looked at by its polling thread."""
        for run, watched in self._watched.items():
            if watched.ended_why is None:
                watched.station.ask(self._looking(run))

    def look_last(self) -> None:
        """Say a last word on each link; the polling has ended."""
        for run, watched in self._watched.items():
            if watched.ended_why is None:
                self._look(run, is_last=True)

    def _looking(self, run: int) -> Callable[[Vigil], None]:
        return lambda vigil: self._look(run)

    def _look(self, run: int, is_last: bool = False) -> None:
        watched = self._watched[run]
        facts = watched.row.facts
        judge = self._judges.setdefault(run, LinkJudge(facts.poll_s / facts.clock_speed))
        judgement = judge.look(link_standing(watched.station.driver), is_last)
        if judgement is not None:
            text, is_well = judgement
            self._note(run, Status(LINK, self._real.utc_ns(), text, is_well))
