"""What came first: each rule with evidence of its own."""

from dataclasses import replace

import pytest

from monitor.analysis.cause.cause import Evidence, cause_of
from monitor.analysis.short import Short
from monitor.model.explanation import Cause, Explanation, Happening
from monitor.text.stops import order_line

RISE = Evidence(
    limit_amps=40.0,
    is_cut_out=True,
    says_off=False,
    amps=40.1,
    volts=9.0,
    peak_amps=40.2,
    start_amps=35.0,
    start_ago_s=733.0,
    over_s=0.4,
    mean_share=0.9,
)


def test_amps_that_crept_up_to_the_limit_are_a_slow_rise() -> None:
    assert cause_of(RISE) == (
        Cause.SLOW_RISE,
        "from 35.0 A to 40.2 A in 12:13 at the same volts",
    )


def test_a_short_comes_before_everything_else() -> None:
    cause, sentence = cause_of(replace(RISE, short=Short(0.042, 52.0, 24.0), over_s=60.0))
    assert cause is Cause.SHORT
    assert "0.042 ohm" in sentence


def test_long_over_the_limit_is_heat() -> None:
    # An over-current cut-out acts within seconds; a thermal one needs minutes at this overload:
    # tau ln(I^2 / (I^2 - Is^2)), IEC 60255-149.
    cause, sentence = cause_of(replace(RISE, over_s=173.0))
    assert cause is Cause.HEAT
    assert "over 40 A for 2:53" in sentence


def test_under_the_limit_after_minutes_near_it_is_heat_too() -> None:
    under = replace(RISE, amps=35.0, peak_amps=35.5, mean_share=0.76)
    assert cause_of(under)[0] is Cause.HEAT


def test_a_cut_out_from_far_under_the_limit_was_not_seen() -> None:
    cause, sentence = cause_of(replace(RISE, amps=24.0, peak_amps=24.2, mean_share=0.36))
    assert cause is Cause.UNSEEN
    assert "short too brief for the polls, or" in sentence


def test_volts_set_up_to_the_limit_were_the_operator() -> None:
    cause, sentence = cause_of(replace(RISE, set_from_volts=8.0, set_ago_s=6.0))
    assert cause is Cause.OPERATOR
    assert "turned up from 8.0 to 9.0 V" in sentence
    assert cause_of(replace(RISE, set_from_volts=8.0, set_ago_s=300.0))[0] is Cause.SLOW_RISE


@pytest.mark.parametrize(
    ("says_off", "set_from", "words"),
    [
        (True, None, "the supply says that it was switched off"),
        (False, None, "switched off at 40.1 A, with no sign"),
        (False, 11.0, "turned down from 11.0 V"),
    ],
)
def test_an_output_that_went_off_without_a_cut_out_was_the_operator(
    says_off: bool, set_from: float | None, words: str
) -> None:
    cause, sentence = cause_of(
        replace(RISE, is_cut_out=False, says_off=says_off, set_from_volts=set_from, set_ago_s=3.0)
    )
    assert cause is Cause.OPERATOR
    assert words in sentence


def test_an_output_that_went_off_unseen_convicts_nobody() -> None:
    cause, sentence = cause_of(replace(RISE, is_cut_out=False, unseen_s=1.0))
    assert cause is Cause.UNSEEN
    assert "switched off, or a short too brief" in sentence
    # A supply that says what it did is believed.
    assert cause_of(replace(RISE, is_cut_out=False, says_off=True, unseen_s=1.0))[0] is (
        Cause.OPERATOR
    )


def test_near_the_limit_with_nothing_that_says_why_both_are_told() -> None:
    doubtful = replace(RISE, is_cut_out=False, may_be_cut_out=True, amps=37.0, peak_amps=37.2)
    assert cause_of(doubtful) == (
        Cause.UNSEEN,
        "at 37.2 A, 93% of the limit: it cut out or was switched off; the supply does not say "
        "which",
    )
    assert "not watched for 1:00" in cause_of(replace(doubtful, unseen_s=60.0))[1]


def test_volts_turned_down_to_nothing_were_the_operator() -> None:
    cause, sentence = cause_of(replace(RISE, is_cut_out=False, turned_down_from=9.0))
    assert cause is Cause.OPERATOR
    assert sentence == "the volts were turned down from 9.0 V until nothing flowed"


def test_on_the_way_up_it_is_the_setting_or_the_same_bath_again() -> None:
    just_on = replace(RISE, start_amps=None, start_ago_s=2.0)
    cause, sentence = cause_of(just_on)
    assert cause is Cause.OPERATOR
    assert "passed 40 A within 2 s" in sentence
    cause, sentence = cause_of(replace(just_on, came_before=True))
    assert cause is Cause.SLOW_RISE
    assert sentence == "the same bath drew 40.2 A again within 2 s of switching on"


def test_the_same_bath_is_told_where_it_came_back_as_high() -> None:
    again = replace(RISE, start_amps=39.6, start_ago_s=20.0, came_before=True)
    assert "same bath drew 39.6 A again" in cause_of(again)[1]


def test_an_explanation_tells_its_order() -> None:
    order = (Happening(5.0, "output on"), Happening(739.0, "cut out"))
    told = Explanation(Cause.SLOW_RISE, "it rose", 7, 9, order, "second cut-out in 5 min")
    assert told.why == "slow rise, it rose; second cut-out in 5 min"
    assert order_line(told.order) == "0:05 output on; 12:19 cut out"
