"""The state of one link for people: its pace, what went wrong, what to know about it.

A driver may tell more than it promises: `times` (`ReplyTimes`), `tally` (`Tally`), `notices`
(sentences, each told once) and `opening_errors` (what stood in the supply's error queue). Whatever
it does not have is left out here.
"""

from dataclasses import dataclass

from drivers.base.inert import inert
from drivers.driver import Driver
from drivers.link.dialogue import Tally
from drivers.reply_times import ReplyTimes
from drivers.text.answer import SupplyError


@dataclass(frozen=True, slots=True)
class LinkStanding:
    """How one link stands.

    Parameters
    ----------
    times
        How long replies took; None where the driver does not measure them.
    tally
        What happened since the driver was made; None where it does not count.
    notices
        What somebody should know, each once.
    """

    times: ReplyTimes | None = None
    tally: Tally | None = None
    notices: tuple[str, ...] = ()

    @property
    def troubles(self) -> int:
        """Answers that came late or could not be understood."""
        return 0 if self.tally is None else self.tally.late + self.tally.garbled

    def words(self, poll_s: float | None = None) -> str:
        """Pace and count for people; "" where the driver tells nothing.

        Examples
        --------
        >>> LinkStanding(tally=Tally(asked=22, answered=20, late=1)).words()
        '20 of 22 questions answered, 1 late, 0 unreadable'
        """
        parts = []
        if self.times is not None and len(self.times):
            parts.append(self.times.words(poll_s))
        if self.tally is not None and self.tally.asked:
            tally = self.tally
            parts.append(
                f"{tally.answered} of {tally.asked} questions answered, {tally.late} late, "
                f"{tally.garbled} unreadable"
            )
        return "; ".join(parts)


def link_standing(driver: Driver) -> LinkStanding:
    """What a driver tells of its link at this moment."""
    times = getattr(driver, "times", None)
    tally = getattr(driver, "tally", None)
    notices = tuple(str(notice) for notice in getattr(driver, "notices", ()))
    errors = tuple(
        f"its error queue held {error.code}, {inert(error.text)!r}"
        for error in getattr(driver, "opening_errors", ())
        if isinstance(error, SupplyError) and not _is_ours(error)
    )
    return LinkStanding(
        times if isinstance(times, ReplyTimes) else None,
        tally if isinstance(tally, Tally) else None,
        (*notices, *errors),
    )


def _is_ours(error: SupplyError) -> bool:
    """Command and query errors (-100 to -199, -400 to -499) come of trying what it can answer."""
    return -200 < error.code <= 0 or error.code <= -400
