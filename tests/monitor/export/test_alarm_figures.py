"""Alarm figures against ANSI/ISA-18.2's measures, as secondary texts quote them: averages of about
150 a day, 6 an hour, 1 per 10 minutes acceptable, twice that the most; a flood is more than 10 in
10 minutes and ends under 5; no chattering is allowed; stale is over 24 h. Three raises in 60 s for
chattering are common practice, no source."""

import pytest

from monitor.export.alarm_figures import Watch, as_lines, figures_of
from monitor.model.alarm import AlarmEvent, Change, Priority, State


def raised(t_s: float, alarm: str = "trip-expected") -> AlarmEvent:
    return AlarmEvent(
        alarm, 1, Change.RAISED, State.UNACKNOWLEDGED, Priority.HIGH, 0, round(t_s * 1e9), "x"
    )


def returned(t_s: float, alarm: str = "trip-expected") -> AlarmEvent:
    return AlarmEvent(
        alarm, 1, Change.RETURNED, State.NORMAL, Priority.HIGH, 0, round(t_s * 1e9), "x"
    )


def watch(seconds: float, *events: AlarmEvent) -> Watch:
    return Watch(seconds, events)


def test_rates_are_averages_over_all_that_was_watched() -> None:
    events = [raised(3600.0 * n) for n in range(6)]
    figures = figures_of([watch(12 * 3600.0, *events), watch(12 * 3600.0)])
    assert figures.rate("day") == pytest.approx(6.0)
    assert figures.rate("hour") == pytest.approx(0.25)
    assert figures.rate("10 min") == pytest.approx(6 / 144)
    assert figures.judgement("day") == "acceptable"


@pytest.mark.parametrize(
    ("a_day", "judgement"),
    [(150, "acceptable"), (151, "manageable"), (300, "manageable"), (301, "too many")],
)
def test_the_bounds_of_a_day(a_day: int, judgement: str) -> None:
    events = [raised(86400.0 * n / a_day) for n in range(a_day)]
    assert figures_of([watch(86400.0, *events)]).judgement("day") == judgement


@pytest.mark.parametrize(("count", "flooded"), [(10, 0), (11, 1)])
def test_eleven_in_ten_minutes_are_a_flood_and_ten_are_not(count: int, flooded: int) -> None:
    figures = figures_of([watch(3600.0, *(raised(50.0 * n) for n in range(count)))])
    assert (figures.flooded, figures.floods, figures.windows) == (flooded, flooded, 6)
    assert figures.most_in_window == count


def test_a_peak_across_two_stretches_is_seen() -> None:
    figures = figures_of([watch(1200.0, *(raised(500.0 + 20 * n) for n in range(11)))])
    assert figures.flooded == 0
    assert (figures.floods, figures.most_in_window) == (1, 11)


def test_two_floods_with_quiet_between_are_two() -> None:
    events = [raised(start + 10.0 * n) for start in (0.0, 7200.0) for n in range(12)]
    assert figures_of([watch(9000.0, *events)]).floods == 2


@pytest.mark.parametrize(("apart_s", "chatters"), [(30.0, True), (30.1, False)])
def test_three_of_one_alarm_in_a_minute_chatter(apart_s: float, chatters: bool) -> None:
    figures = figures_of([watch(600.0, *(raised(apart_s * n) for n in range(3)))])
    assert figures.chattering == (("trip-expected",) if chatters else ())


def test_three_different_alarms_in_a_minute_do_not_chatter() -> None:
    events = [raised(n, f"alarm-{n}") for n in range(3)]
    assert figures_of([watch(600.0, *events)]).chattering == ()


def test_an_alarm_that_stands_for_over_a_day_is_stale() -> None:
    two_days = 172_800.0
    short = watch(two_days, raised(0.0), returned(86_400.0))
    long = watch(two_days, raised(0.0), returned(86_401.0))
    standing = watch(two_days, raised(10.0))
    assert figures_of([short]).stale == ()
    assert figures_of([long]).stale == ("trip-expected",)
    assert figures_of([standing]).stale == ("trip-expected",)


def test_nothing_watched_is_told_as_such() -> None:
    figures = figures_of([])
    assert figures.rate("day") is None
    assert "unknown" in as_lines(figures)[1]
