"""The words for the operator, as a table: what is known of a run against what is said."""

import pytest

from drivers.reading import Mode
from monitor.alarms.catalogue import KINDS
from monitor.base.moments import clock
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.run import LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.text.alarms import caution, what_to_do
from monitor.text.numbers import about, figure, percent, trip_range
from monitor.text.rise import charge_line, rise_lines
from monitor.text.standing import (
    Situation,
    Standing,
    StateWord,
    next_to_acknowledge,
    stale_after_s,
    standing,
    trip_sentence,
)

FACTS = RunFacts("bench-1", "scpi:tcp://127.0.0.1:5025", limit_amps=10.0)
LIMITS = RunFacts(
    "bench-2", "scpi:tcp://127.0.0.1:5025", limit_amps=10.0, limit_kind=LimitKind.HOLDS
)
SOON = Forecast(118.0, 80.0, 190.0, chance_within_horizon=0.51)
LATER = Forecast(480.0, 300.0, 900.0, chance_within_horizon=0.02)
NOT_ENOUGH_DATA = Forecast(why=NoForecast.NOT_ENOUGH_DATA)
NO_RISE = Forecast(why=NoForecast.NO_RISE)
GAP = Forecast(why=NoForecast.GAP)
VOLTS_CHANGED = Forecast(why=NoForecast.VOLTS_CHANGED)
OUTPUT_OFF = Forecast(why=NoForecast.OUTPUT_OFF)
CURRENT_HELD = Forecast(why=NoForecast.CURRENT_HELD)
FAR = Forecast(5000.0, 3000.0, None, chance_within_horizon=0.0)


def sample(t_s: float = 100.0, amps: float = 8.0, mode: Mode = Mode.CONSTANT_VOLTAGE) -> Sample:
    return Sample(int(t_s * 5), int(t_s * 1e9), 0, 900, 6.0, amps, mode=mode)


def gap(t_s: float = 100.0) -> Gap:
    return Gap(int(t_s * 5), int(t_s * 1e9), 0, "no answer")


def estimate(
    forecast: Forecast,
    in_contact: bool = True,
    siemens: float | None = None,
    siemens_at_start: float | None = None,
    warming_share: float | None = None,
    celsius: float | None = None,
) -> Estimate:
    return Estimate(
        500,
        100_000_000_000,
        forecast,
        Charge(),
        siemens=siemens,
        siemens_at_start=siemens_at_start,
        warming_share=warming_share,
        celsius=celsius,
        in_contact=in_contact,
    )


def event(
    alarm: str,
    priority: Priority = Priority.HIGH,
    state: State = State.UNACKNOWLEDGED,
    t_s: float = 90.0,
) -> AlarmEvent:
    return AlarmEvent(
        alarm, 1, Change.RAISED, state, priority, 450, int(t_s * 1e9), f"{alarm} says so"
    )


def at(
    last: Sample | Gap | None,
    forecast: Forecast | None = None,
    *alarms: AlarmEvent,
    age_s: float = 0.1,
    silent_s: float | None = 0.1,
    facts: RunFacts = FACTS,
) -> Situation:
    known = None if forecast is None else estimate(forecast)
    return Situation(facts, last, age_s, silent_s, known, alarms)


RISING = event("trip-expected")
TRIPPED = event("tripped", Priority.CRITICAL, t_s=90.0)
HELD = event("current-limited", Priority.MEDIUM)
BACK = event("tripped", Priority.CRITICAL, State.RETURNED_UNACKNOWLEDGED)

TABLE: list[tuple[Situation, str, Priority | None]] = [
    (at(None), "STARTING: waiting for the first answer", None),
    (
        at(None, age_s=9.0, silent_s=None),
        "RECORDER STOPPED: no reading at all for 9 s",
        Priority.CRITICAL,
    ),
    (at(sample()), "STARTING: not enough data yet", None),
    (
        at(sample(), NOT_ENOUGH_DATA),
        "STARTING: not enough data yet",
        None,
    ),
    (at(sample(), NO_RISE), "STEADY: no trip expected", None),
    (
        at(sample(), NO_RISE, facts=LIMITS),
        "STEADY: no limit expected",
        None,
    ),
    (at(sample(), FAR), "STEADY: no trip expected within 40 min", None),
    (at(sample(), LATER), "RISING: trip in about 8 min (5 to 15)", None),
    (at(sample(), SOON, RISING), "RISING: trip in about 2 min (1 to 4)", Priority.HIGH),
    (
        at(sample(), SOON, RISING, facts=LIMITS),
        "RISING: limit in about 2 min (1 to 4)",
        Priority.HIGH,
    ),
    (
        at(sample(), VOLTS_CHANGED),
        "LEARNING: the volts changed, no forecast yet",
        None,
    ),
    (
        at(sample(), GAP),
        "LEARNING: readings are back, no forecast yet",
        None,
    ),
    (
        at(sample(310.0, 0.0, Mode.CUT_OUT), OUTPUT_OFF, RISING, TRIPPED),
        "CUT OUT: let it cool, 3:40 so far",
        Priority.CRITICAL,
    ),
    (
        at(sample(amps=0.0), None, event("tripped", Priority.HIGH)),
        "OFF: cut out near the limit, or switched off",
        Priority.HIGH,
    ),
    (at(sample(amps=0.0, mode=Mode.CUT_OUT)), "CUT OUT: let it cool", Priority.CRITICAL),
    (
        at(sample(amps=10.0, mode=Mode.CONSTANT_CURRENT), NO_RISE, HELD),
        "LIMITED: the supply is holding 10.0 A",
        Priority.MEDIUM,
    ),
    (
        at(sample(amps=10.0), CURRENT_HELD, facts=LIMITS),
        "LIMITED: the supply is holding 10.0 A",
        None,
    ),
    (at(sample(amps=0.0, mode=Mode.OUTPUT_OFF)), "OFF: output is off", None),
    (at(sample(amps=0.0), OUTPUT_OFF), "OFF: output is off", None),
    (at(gap(), SOON, silent_s=6.2), "NO DATA: no answer for 6 s", Priority.CRITICAL),
    (at(gap(), SOON, silent_s=95.0), "NO DATA: no answer for 1:35", Priority.CRITICAL),
    (at(gap(), silent_s=None), "NO DATA: no answer", Priority.CRITICAL),
    (at(gap(), age_s=3.0, silent_s=9.0), "NO DATA: no answer for 9 s", Priority.CRITICAL),
    (
        at(gap(), age_s=8.0, silent_s=14.0),
        "RECORDER STOPPED: no reading for 8 s",
        Priority.CRITICAL,
    ),
    (
        at(gap(), SOON, event("wrong-supply", Priority.CRITICAL), silent_s=6.2),
        "WRONG SUPPLY: wrong-supply says so",
        Priority.CRITICAL,
    ),
    (
        at(gap(), None, event("watch-failed", Priority.CRITICAL), event("no-data"), silent_s=9.0),
        "WATCH FAILED: watch-failed says so",
        Priority.CRITICAL,
    ),
    (at(gap(), SOON, RISING, silent_s=0.4), "RISING: trip in about 2 min (1 to 4)", Priority.HIGH),
    (
        at(sample(), SOON, RISING, age_s=14.0),
        "RECORDER STOPPED: no reading for 14 s",
        Priority.CRITICAL,
    ),
    (at(sample(), NO_RISE, BACK), "STEADY: no trip expected", None),
    (
        at(sample(), SOON, event("overheating", Priority.CRITICAL)),
        "TOO HOT: overheating says so",
        Priority.CRITICAL,
    ),
    (
        at(sample(), SOON, event("not-recording", Priority.HIGH)),
        "ALARM: not-recording says so",
        Priority.HIGH,
    ),
    (
        at(sample(), NO_RISE, event("disk-low", Priority.LOW)),
        "STEADY: no trip expected",
        None,
    ),
    (
        at(sample(), NO_RISE, event("density-high", Priority.MEDIUM)),
        "STEADY: no trip expected",
        Priority.MEDIUM,
    ),
    (
        at(sample(), SOON, event("density-high", Priority.MEDIUM), RISING),
        "RISING: trip in about 2 min (1 to 4)",
        Priority.HIGH,
    ),
    (
        at(sample(), SOON, event("density-high", Priority.MEDIUM, State.SHELVED)),
        "RISING: trip in about 2 min (1 to 4)",
        None,
    ),
    (
        Situation(FACTS, sample(), 9999.0, ended=True, ended_s=1080.0, ended_why="asked for"),
        "FINISHED: run ended after 18:00: asked for",
        None,
    ),
    (
        Situation(FACTS, None, ended=True, ended_s=65.0, ended_why="ended by the operator"),
        "FINISHED: run ended after 1:05 by the operator",
        None,
    ),
    (Situation(FACTS, None, ended=True), "FINISHED: run ended", None),
    (
        Situation(FACTS, sample(), 0.1, 0.1, estimate(SOON, in_contact=False)),
        "SWAB OFF: forecast paused",
        None,
    ),
]


@pytest.mark.parametrize(("situation", "line", "priority"), TABLE, ids=[row[1] for row in TABLE])
def test_the_state_sentence_says_what_is_known(
    situation: Situation, line: str, priority: Priority | None
) -> None:
    said = standing(situation)
    assert (said.line, said.priority) == (line, priority)
    assert said.abnormal is (priority is not None)


def test_whatever_is_abnormal_says_what_to_do() -> None:
    for situation, line, priority in TABLE:
        known = not line.startswith(("ALARM", "TOO HOT"))
        if priority is not None and known:
            assert standing(situation).to_do, line


def test_values_are_stale_two_polls_and_one_second_after_the_last_row() -> None:
    limit_s = stale_after_s(FACTS)
    assert limit_s == pytest.approx(2 * 0.2 + 1.0)
    assert standing(at(sample(), SOON, age_s=limit_s)).fresh
    assert not standing(at(sample(), SOON, age_s=limit_s + 0.01)).fresh
    assert not standing(at(gap(), SOON, silent_s=limit_s + 0.01)).fresh


def test_compressed_time_does_not_make_a_running_recorder_look_stopped() -> None:
    sped = RunFacts("bench-1", "scpi:tcp://127.0.0.1:5025", limit_amps=10.0, clock_speed=12.0)
    assert stale_after_s(sped) == pytest.approx(2 * 0.2 + 12.0)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_alarm_says_what_to_do_and_what_to_beware_of(kind: object) -> None:
    name = str(getattr(kind, "name", ""))
    assert what_to_do(name)
    assert caution(name)


def test_an_alarm_nobody_knows_has_no_made_up_advice() -> None:
    assert (what_to_do("of-a-newer-version"), caution("of-a-newer-version")) == ("", "")


def test_one_press_acknowledges_the_worst_and_of_equals_the_oldest() -> None:
    low = event("disk-low", Priority.LOW, t_s=1.0)
    old, new = event("tripped", Priority.CRITICAL, t_s=5.0), event("no-data", Priority.CRITICAL)
    seen = event("short", Priority.CRITICAL, State.ACKNOWLEDGED, t_s=0.5)
    assert next_to_acknowledge((low, new, old, seen)) == old
    assert next_to_acknowledge((seen,)) is None
    assert next_to_acknowledge(()) is None


def test_a_latched_alarm_that_returned_still_waits_for_the_key() -> None:
    assert next_to_acknowledge((BACK,)) == BACK


def test_the_rise_is_split_and_no_cause_is_stated_as_fact() -> None:
    # Warming explains part of a rise; the rest has several usual reasons that the supply's side
    # cannot tell apart (common practice, no source).
    lines = rise_lines(
        estimate(SOON, siemens=1.18, siemens_at_start=1.0, warming_share=0.667, celsius=31.2)
    )
    assert lines[0] == (
        "the bath conducts 18 % more than at the start of this run; warming explains about 12 %"
    )
    assert "usual reasons for the other 6 %" in lines[1]
    assert lines[-1] == "bath at about 31 C"


@pytest.mark.parametrize("siemens", [0.6, 0.9, 1.0, 1.18, 1.5])
@pytest.mark.parametrize("share", [None, 0.0, 0.5, 1.0])
def test_no_single_chemical_is_ever_blamed(siemens: float, share: float | None) -> None:
    known = Estimate(
        1, 1, SOON, Charge(), siemens=siemens, siemens_at_start=1.0, warming_share=share
    )
    text = " ".join(rise_lines(known))
    assert "chromate" not in text
    if "carbonate" in text:
        assert "usual reasons" in text
        assert "water lost" in text


def test_warming_that_something_took_back_is_told_as_both() -> None:
    lines = rise_lines(
        Estimate(1, 1, SOON, Charge(), siemens=1.1, siemens_at_start=1.0, warming_rise=0.2)
    )
    assert "warming alone would have made it 20 %" in lines[0]
    assert "usual reasons for the part lost" in lines[1]


def test_a_rise_without_warming_asks_for_water_and_not_for_a_pause() -> None:
    text = " ".join(
        rise_lines(
            Estimate(1, 1, SOON, Charge(), siemens=1.1, siemens_at_start=1.0, warming_rise=0.0)
        )
    )
    assert "warming explains little or none" in text
    assert "pause" not in text


@pytest.mark.parametrize(
    ("rise", "warming", "says"),
    [
        (0.025, 0.010, "too little to say how much of it is warming"),
        (0.025, 0.020, "warming explains it"),
        (0.035, 0.030, "warming explains it"),
        (0.035, 0.010, "warming explains little or none of it"),
        (0.060, 0.026, "warming explains about 3 %"),
    ],
)
def test_warming_gets_the_credit_only_where_most_of_a_small_rise_is_its_own(
    rise: float, warming: float, says: str
) -> None:
    risen = Estimate(
        1, 1, SOON, Charge(), siemens=1.0 + rise, siemens_at_start=1.0, warming_rise=warming
    )
    assert says in rise_lines(risen)[0]


def test_an_unknown_rise_is_called_unknown() -> None:
    assert rise_lines(None) == rise_lines(estimate(SOON))
    assert rise_lines(None) == ("the conductance of the bath is not known yet",)


def test_charge_with_holes_shows_its_bounds() -> None:
    whole = Charge(1.42, 1.42, 1.42, 0.9981)
    assert charge_line(whole) == "1.42 Ah (99.8 % recorded)"
    assert charge_line(Charge(1.42, 1.42, 1.61, 0.93)) == (
        "1.42 Ah (93.0 % recorded), between 1.42 Ah and 1.61 Ah"
    )


def test_a_missing_poll_never_reads_as_full_coverage() -> None:
    assert percent(0.99999, 1) == "99.9 %"
    assert percent(1.0, 1) == "100.0 %"


def test_a_forecast_without_a_far_end_says_or_more() -> None:
    assert trip_sentence(Forecast(118.0, 80.0, None)) == "trip in about 2 min (1 or more)"
    assert trip_sentence(Forecast(118.0)) == "trip in about 2 min"
    assert trip_sentence(NO_RISE) == "no trip expected"


@pytest.mark.parametrize("seconds", [0.0, 9.9, 10.0, 89.9, 90.0, 179.0, 180.0, 3599.0, 3600.0, 9e5])
def test_the_range_in_words_always_holds_the_median_in_words(seconds: float) -> None:
    low, high = trip_range(seconds * 0.7, seconds, seconds * 1.6).split(" to ")
    shown = about(seconds).split()[-2]
    assert float(low.split()[0]) <= float(shown) <= float(high.split()[0])


def test_unknown_numbers_are_dashes_and_never_zero() -> None:
    assert figure(None) == "--"
    assert figure(0.0) == "0.00"
    assert figure(-0.001) == "0.00"


@pytest.mark.parametrize(("value", "text"), [(9.994, "9.99"), (9.996, "10.0"), (99.96, "100")])
def test_rounding_up_keeps_three_digits(value: float, text: str) -> None:
    assert figure(value) == text


def test_the_count_of_seconds_does_not_round_up() -> None:
    assert clock(59.99) == "0:59"


def test_a_standing_is_normal_until_it_has_a_priority() -> None:
    assert not Standing(StateWord.STEADY, "no trip expected").abnormal
