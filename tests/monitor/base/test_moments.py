"""One formatter of durations: the same text on every screen, in every report and explanation."""

from dataclasses import replace

import pytest

from monitor.analysis.cause.cause import cause_of
from monitor.base.moments import clock
from monitor.model.explanation import Happening
from monitor.model.run import RunFacts
from monitor.text.standing import Situation, standing
from monitor.text.stops import on_again, order_line
from tests.monitor.analysis.cause.test_cause import RISE

LONG_S = 3754.6
"""Over an hour, and nearer to the next second: where four formatters once parted."""


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.0, "0:00"), (59.99, "0:59"), (60.0, "1:00"), (3599.9, "59:59"), (3600.0, "1:00:00")],
)
def test_whole_seconds_that_have_passed_are_shown(seconds: float, text: str) -> None:
    assert clock(seconds) == text


def test_every_room_prints_a_duration_alike() -> None:
    facts = RunFacts("bench-1", "scpi:/dev/ttyUSB0", 10.0)
    texts = (
        standing(Situation(facts, ended=True, ended_s=LONG_S)).line,
        cause_of(replace(RISE, start_ago_s=LONG_S))[1],
        order_line((Happening(LONG_S, "cut out"),)),
        on_again(LONG_S),
    )
    assert [text for text in texts if "1:02:34" not in text] == []
