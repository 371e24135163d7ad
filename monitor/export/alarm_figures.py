"""How often alarms came in many runs: the rates by which a shop tunes its limits.

The measures and what they are held against are those of ANSI/ISA-18.2's chapter on monitoring, as
secondary texts quote them; the standard itself was not at hand. Three raises within a minute for
chattering are a common convention: the standard's own words name no number.
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.model.alarm import AlarmEvent, Change, Priority, State

WINDOW_S = 600.0
"""Rates, floods and peaks are reckoned over ten minutes."""
FLOOD_ABOVE = 10
"""More raises than this within ten minutes are a flood."""
FLOOD_ENDS_BELOW = 5
CHATTER_RAISES = 3
CHATTER_WITHIN_S = 60.0
STALE_S = 24 * 3600.0
"""An alarm that has stood for longer than a day is stale."""

ACCEPTABLE = {"10 min": 1.0, "hour": 6.0, "day": 150.0}
"""Average raises that one operator can very likely deal with."""
MANAGEABLE = {"10 min": 2.0, "hour": 12.0, "day": 300.0}
"""Average raises that are the most one operator can."""
AIMS = {
    Priority.CRITICAL: "under 1 %",
    Priority.HIGH: "5 %",
    Priority.MEDIUM: "15 %",
    Priority.LOW: "80 %",
}
"""Shares of all raises: the more urgent, the rarer."""
LEAST_S = 30 * 86400.0
"""The averages are to be taken over at least thirty days."""
SECONDS = {"10 min": 600.0, "hour": 3600.0, "day": 86400.0}


@dataclass(frozen=True, slots=True)
class Watch:
    """One run as these figures need it: its length, and its alarm events in order."""

    seconds: float
    events: tuple[AlarmEvent, ...]


@dataclass(frozen=True, slots=True)
class AlarmFigures:
    """What the runs' alarms come to.

    Parameters
    ----------
    seconds
        Watched in all.
    raises, by_alarm, by_priority
        How often an alarm was raised, in all and by its name or priority.
    most_in_window
        The most raises in any ten minutes.
    windows, flooded
        Ten-minute stretches from each run's start on, and those with a flood.
    floods
        How often a flood began.
    chattering
        Names of alarms that were raised three times within a minute.
    stale
        Names of alarms that stood for over a day.
    """

    seconds: float
    raises: int
    by_alarm: dict[str, int]
    by_priority: dict[str, int]
    most_in_window: int
    windows: int
    flooded: int
    floods: int
    chattering: tuple[str, ...]
    stale: tuple[str, ...]

    def rate(self, per: str) -> float | None:
        """Average raises per "10 min", "hour" or "day"; None where nothing was watched."""
        return self.raises * SECONDS[per] / self.seconds if self.seconds > 0 else None

    def judgement(self, per: str) -> str:
        """What an average rate means to one operator, in a word or two."""
        rate = self.rate(per)
        if rate is None:
            return "nothing watched"
        if rate <= ACCEPTABLE[per]:
            return "acceptable"
        return "manageable" if rate <= MANAGEABLE[per] else "too many"


def figures_of(watches: Iterable[Watch]) -> AlarmFigures:
    """Reckon the figures of runs that were watched one after another."""
    seconds, most, windows, flooded, floods = 0.0, 0, 0, 0, 0
    by_alarm: Counter[str] = Counter()
    by_priority: Counter[str] = Counter()
    chattering: set[str] = set()
    stale: set[str] = set()
    for watch in watches:
        raised = [event for event in watch.events if _is_raise(event)]
        times = [event.t_s for event in raised]
        seconds += watch.seconds
        by_alarm.update(event.alarm for event in raised)
        by_priority.update(event.priority.value for event in raised)
        most = max([most, *_in_the_window_up_to(times)])
        counts = _per_window(times, watch.seconds)
        windows += len(counts)
        flooded += sum(count > FLOOD_ABOVE for count in counts)
        floods += _floods(times)
        for name in set(by_alarm):
            if _chatters([event.t_s for event in raised if event.alarm == name]):
                chattering.add(name)
        stale |= _stale(watch)
    return AlarmFigures(
        seconds,
        by_alarm.total(),
        dict(by_alarm.most_common()),
        dict(by_priority.most_common()),
        most,
        windows,
        flooded,
        floods,
        tuple(sorted(chattering)),
        tuple(sorted(stale)),
    )


def _is_raise(event: AlarmEvent) -> bool:
    back = event.change is Change.UNSHELVED and event.state is State.UNACKNOWLEDGED
    return event.change is Change.RAISED or back


def _in_the_window_up_to(times: Sequence[float]) -> list[int]:
    """For each raise, how many there were in the ten minutes up to it, itself counted."""
    return [
        number + 1 - bisect_left(times, t_s - WINDOW_S, hi=number + 1)
        for number, t_s in enumerate(times)
    ]


def _per_window(times: Sequence[float], seconds: float) -> list[int]:
    """Raises in each ten minutes from the start on, empty ones too."""
    counts = [0] * max(int(-(-seconds // WINDOW_S)), 1)
    for t_s in times:
        counts[min(int(t_s // WINDOW_S), len(counts) - 1)] += 1
    return counts


def _floods(times: Sequence[float]) -> int:
    """How often raises came to a flood, and before the next one thinned out again."""
    floods, is_flood = 0, False
    for number, count in enumerate(_in_the_window_up_to(times)):
        quiet = number > 0 and times[number] - times[number - 1] > WINDOW_S
        if is_flood and (count < FLOOD_ENDS_BELOW or quiet):
            is_flood = False
        if not is_flood and count > FLOOD_ABOVE:
            is_flood = True
            floods += 1
    return floods


def _chatters(times: Sequence[float]) -> bool:
    pairs = zip(times, times[CHATTER_RAISES - 1 :], strict=False)
    return any(last - first <= CHATTER_WITHIN_S for first, last in pairs)


def _stale(watch: Watch) -> set[str]:
    stale, since_s = set(), dict[str, float]()
    for event in watch.events:
        if event.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED):
            since_s.setdefault(event.alarm, event.t_s)
            continue
        if event.t_s - since_s.pop(event.alarm, event.t_s) > STALE_S:
            stale.add(event.alarm)
    return stale | {name for name, t_s in since_s.items() if watch.seconds - t_s > STALE_S}


def as_lines(figures: AlarmFigures) -> list[str]:
    """The figures as lines of text."""
    lines = [f"{figures.raises} alarms in {figures.seconds / 3600:.1f} h of recording"]
    for per in SECONDS:
        rate = figures.rate(per)
        shown = "unknown" if rate is None else f"{rate:.2f}"
        lines.append(
            f"  per {per:<7} {shown:>8}   {figures.judgement(per)}"
            f" (acceptable to {ACCEPTABLE[per]:g}, manageable to {MANAGEABLE[per]:g})"
        )
    lines.append(f"  most in any 10 min: {figures.most_in_window} (a flood is over {FLOOD_ABOVE})")
    share = figures.flooded / figures.windows if figures.windows else 0.0
    lines.append(f"  10-minute stretches in flood: {figures.flooded} ({share:.1%}; aim: under 1 %)")
    if figures.raises:
        shares = ", ".join(
            f"{priority.value} {figures.by_priority.get(priority.value, 0) / figures.raises:.0%}"
            f" (aim: {AIMS[priority]})"
            for priority in Priority
        )
        lines.append(f"  by priority: {shares}")
    for name, count in figures.by_alarm.items():
        lines.append(f"  {name}: {count} ({count / figures.raises:.0%})")
    lines.append(f"  chattering (3 in 60 s): {', '.join(figures.chattering) or 'none'}")
    lines.append(f"  stale (over a day): {', '.join(figures.stale) or 'none'}")
    if figures.seconds < LEAST_S:
        lines.append(f"  the bounds are meant for {LEAST_S / 86400:.0f} days or more")
    return lines
