"""A quiet working week at one bench, by the measures of ANSI/ISA-18.2 (see `alarm_figures`).

About 6 alarms an hour are very likely acceptable to one operator and 12 the most; never more than
10 within ten minutes, and none that chatters (as secondary texts quote the standard, which was not
at hand).
"""

from collections.abc import Iterator

import pytest

from benchmarks.hazards.chain import fast
from benchmarks.hazards.draw import draw
from benchmarks.hazards.quiet import QUIET
from benchmarks.hazards.said import said_of
from monitor.export.alarm_figures import FLOOD_ABOVE, Watch, figures_of
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.event import ASKS_FOR_A_HAND

WEEK_H = 40.0
RARELY_AN_HOUR = 0.1
"""Where nothing is wrong there should be next to none; the standard's bound is for a busy bench."""
PROMPTS_AN_HOUR = 6.0
"""Prompts that sound take the operator's eyes as an alarm does."""


def week() -> Iterator[tuple[Watch, int]]:
    """Each quiet scene with its raises, and how many prompts sounded in it."""
    hours, number = 0.0, 0
    while hours < WEEK_H:
        scene = QUIET[number % len(QUIET)]
        drawn = draw(scene.name, number, seed=5)
        drawn.poll_at_most(1.0)
        played = scene.play(drawn)
        said = said_of(fast(played))
        raised = tuple(
            AlarmEvent(
                one.name, 1, Change.RAISED, State.UNACKNOWLEDGED, Priority(one.priority),
                0, round(one.t_s * 1e9), one.message,
            )
            for one in said
            if one.kind == "alarm"
        )  # fmt: skip
        asked = sum(one.kind == "prompt" and one.name in ASKS_FOR_A_HAND for one in said)
        yield Watch(played.seconds, raised), asked
        hours, number = hours + played.seconds / 3600.0, number + 1


@pytest.mark.trial
def test_a_quiet_week_stays_far_under_the_bounds_of_the_alarm_standard() -> None:
    scenes = list(week())
    figures = figures_of(watch for watch, _ in scenes)
    assert figures.seconds >= WEEK_H * 3600.0
    assert figures.judgement("hour") == "acceptable"
    assert figures.raises / (figures.seconds / 3600.0) <= RARELY_AN_HOUR, figures.by_alarm
    assert figures.most_in_window <= FLOOD_ABOVE
    assert figures.chattering == ()
    prompts = sum(asked for _, asked in scenes)
    assert prompts / (figures.seconds / 3600.0) <= PROMPTS_AN_HOUR
