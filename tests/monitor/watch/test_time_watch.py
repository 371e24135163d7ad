"""How long current may flow through one part: the limit at the start, an alarm after it."""

from collections.abc import Iterable

import pytest

from monitor.model.card import Way
from monitor.model.fittings import Fittings
from monitor.model.step import JobStep
from monitor.watch.seen import Seen
from monitor.watch.strip_steps import Step
from monitor.watch.time_watch import TimeWatch
from tests.monitor.watch.seeing import seen

TWO_MINUTES = Fittings(step=JobStep("strip", minutes=(1.0, 2.0)))


def raised(watch: TimeWatch, rows: Iterable[Seen]) -> list[float]:
    """When the alarm begins to hold, or begins anew."""
    times, held = [], False
    for row in rows:
        watch.update(row)
        if len(watch.findings) > 1:
            assert [one.holds for one in watch.findings] == [False, True]
            held = False
        holds = bool(watch.findings[-1].holds)
        if holds and not held:
            times.append(row.t_s)
        held = holds
    return times


def flowing(began: int, seconds: int, amps: float = 5.0) -> list[Seen]:
    """A row a second."""
    return [seen(float(n), amps) for n in range(began, began + seconds)]


def test_it_is_told_at_the_limit_and_again_each_five_minutes() -> None:
    assert raised(TimeWatch(TWO_MINUTES), flowing(0, 800)) == [121.0, 421.0, 721.0]


@pytest.mark.parametrize(
    ("way", "swab", "minutes"), [(Way.TANK, True, 20), (Way.SWAB, False, 10), (None, True, 10)]
)
def test_a_strip_without_minutes_has_those_of_its_way(
    way: Way | None, swab: bool, minutes: int
) -> None:
    """20 and 10 minutes: common practice, no source."""
    watch = TimeWatch(Fittings())
    watch.refit(Fittings(), way)
    rows = [seen(float(n), 5.0, swab=swab) for n in range(1300)]
    (said,) = [prompt for row in rows[:5] for prompt in watch.update(row)]
    assert said.message == f"time limit of this strip: {minutes} min (default)"
    assert raised(watch, rows[5:])[0] == pytest.approx(60.0 * minutes, abs=2.0)


def test_a_limit_that_a_card_changes_is_said_again() -> None:
    watch = TimeWatch(Fittings())
    rows = flowing(0, 10)
    words = [prompt.message for row in rows[:5] for prompt in watch.update(row)]
    watch.refit(TWO_MINUTES, Way.TANK)
    words += [prompt.message for row in rows[5:] for prompt in watch.update(row)]
    assert words == [
        "time limit of this strip: 20 min (default)",
        "time limit of this strip: 2 min",
    ]


def test_only_time_with_current_counts_and_a_short_pause_goes_on() -> None:
    watch = TimeWatch(TWO_MINUTES)
    assert raised(watch, [*flowing(0, 100), *flowing(100, 50, 0.0), *flowing(150, 50)]) == [171.0]


@pytest.mark.parametrize("pause_s", [70, 300])
def test_after_a_long_pause_something_else_hangs_in_the_bath(pause_s: int) -> None:
    watch = TimeWatch(TWO_MINUTES)
    on = flowing(100 + pause_s, 130)
    assert raised(watch, [*flowing(0, 100), *flowing(100, pause_s, 0.0), *on[:120]]) == []
    assert raised(watch, on[120:]) == [100.0 + pause_s + 120.0]


def test_a_strip_that_ended_takes_its_time_with_it() -> None:
    watch = TimeWatch(TWO_MINUTES)
    held = [seen(float(n), 5.0, step=Step.HELD) for n in range(100, 110)]
    off = [seen(float(n), 0.0, off=True) for n in range(110, 115)]
    assert raised(watch, [*flowing(0, 100), *held, *off, *flowing(115, 100)]) == []


def test_a_silence_under_current_counts_as_current() -> None:
    watch = TimeWatch(TWO_MINUTES)
    silent = [seen(float(n), None) for n in range(100, 140)]
    assert raised(watch, [*flowing(0, 100), *silent, *flowing(140, 10)]) == [140.0]


def test_it_returns_when_the_current_has_stopped_and_not_for_a_lifted_swab() -> None:
    watch = TimeWatch(TWO_MINUTES)
    raised(watch, flowing(0, 130))
    raised(watch, flowing(130, 5, 0.0))
    assert watch.findings[-1].holds
    raised(watch, flowing(135, 10, 0.0))
    assert watch.findings[-1].holds is False


def test_a_step_without_minutes_that_is_no_strip_has_no_limit() -> None:
    watch = TimeWatch(Fittings(step=JobStep("rinse")))
    rows = flowing(0, 3000)
    assert [prompt for row in rows for prompt in watch.update(row)] == []
    assert raised(watch, rows) == []
