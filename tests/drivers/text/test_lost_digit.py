"""A value that may have lost its first digit is suspect, right after line trouble only."""

from dataclasses import replace

import pytest

from drivers.link.dialogue import Tally
from drivers.reading import Reading
from drivers.text.lost_digit import LostDigit, may_have_lost_a_digit

BEFORE = Reading(12.31, 4.07)


@pytest.mark.parametrize(
    ("before", "now"), [(12.34, 2.34), (12.31, 2.4), (6.12, 0.12), (105.0, 5.0), (-12.3, -2.3)]
)
def test_a_fall_by_the_first_digit_may_be_a_lost_one(before: float, now: float) -> None:
    assert may_have_lost_a_digit(before, now)


@pytest.mark.parametrize(
    ("before", "now"),
    [(12.34, 12.3), (12.34, 8.0), (2.34, 12.34), (0.0, 5.0), (None, 2.0), (12.0, None)],
)
def test_another_change_is_none(before: float | None, now: float | None) -> None:
    assert not may_have_lost_a_digit(before, now)


@pytest.mark.parametrize("count", ["garbled", "late", "resyncs"])
@pytest.mark.parametrize("name", ["volts", "amps"])
def test_it_is_suspect_once_after_trouble(count: str, name: str) -> None:
    watch, calm = LostDigit(), Tally()
    assert watch.doubted(BEFORE, calm) == BEFORE
    cut = replace(BEFORE, volts=2.34) if name == "volts" else replace(BEFORE, amps=0.07)
    troubled = Tally()
    setattr(troubled, count, 1)
    doubt = watch.doubted(cut, troubled).doubt
    assert doubt is not None
    assert name in doubt
    setattr(troubled, count, 2)
    assert watch.doubted(cut, troubled) == cut, "a true fall is good at the next reading"


@pytest.mark.parametrize(
    ("now", "is_suspect"),
    [(15.8, True), (15.0, True), (15.87, False), (0.0, False)],
)
def test_fewer_decimals_than_usual_are_suspect_once_after_trouble(
    now: float, is_suspect: bool
) -> None:
    watch = LostDigit()
    for volts in (15.81, 15.8, 15.83):
        assert watch.doubted(Reading(volts, 4.07), Tally()).doubt is None
    reading = Reading(now, 4.07)
    assert bool(watch.doubted(reading, Tally(garbled=1)).doubt) is is_suspect
    assert watch.doubted(reading, Tally(garbled=1)).doubt is None


def test_a_fall_without_trouble_is_good() -> None:
    watch = LostDigit()
    watch.doubted(BEFORE, Tally())
    assert watch.doubted(Reading(2.31, 0.07), Tally()).doubt is None


def test_another_doubt_stays() -> None:
    watch = LostDigit()
    watch.doubted(BEFORE, Tally())
    reading = Reading(2.31, 4.0, doubt="amps out of range")
    assert watch.doubted(reading, Tally(garbled=1)) == reading
