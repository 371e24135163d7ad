"""What raises which alarm, row by row."""

from dataclasses import replace

from drivers.reading import Mode
from monitor.analysis.cut_out import CutOut
from monitor.model.alarm import AlarmName, Priority
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, Quality, Sample
from tests.monitor.alarms.rows import Alone, sample

NO_RISE = Forecast(why=NoForecast.NO_RISE)


def judge(
    conditions: Alone,
    row: Sample | Gap,
    forecast: Forecast = NO_RISE,
    stands: bool = False,
) -> dict[str, bool | None]:
    estimate = Estimate(row.seq, row.t_ns, forecast, Charge())
    return {f.alarm: f.holds for f in conditions.judge(row, estimate, stands)}


def trips(limit_amps: float = 10.0) -> Alone:
    return Alone(limit_amps, LimitKind.TRIPS, 5.0)


def test_a_dead_output_after_a_peak_at_the_limit_is_a_cut_out() -> None:
    conditions = trips()
    assert judge(conditions, sample(0.0, 9.0, 9.9))[AlarmName.TRIPPED] is False
    assert judge(conditions, sample(0.2, 0.1, 0.0))[AlarmName.TRIPPED] is True
    assert judge(conditions, sample(60.0, 0.1, 0.0))[AlarmName.TRIPPED] is True
    assert judge(conditions, sample(61.0, 6.0, 5.0))[AlarmName.TRIPPED] is False


def test_a_dead_output_far_from_the_limit_is_the_operator_switching_off() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 5.0))
    assert judge(conditions, sample(0.2, 0.1, 0.0))[AlarmName.TRIPPED] is False


def test_a_dead_output_while_a_trip_is_expected_is_a_cut_out() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 8.5))
    assert judge(conditions, sample(0.2, 0.0, 0.0), stands=True)[AlarmName.TRIPPED] is True


def test_a_swab_lifted_off_at_full_volts_is_no_cut_out() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 9.8))
    assert judge(conditions, sample(0.2, 9.0, 0.0))[AlarmName.TRIPPED] is False


def test_the_supplys_own_word_for_a_cut_out_is_believed() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 5.0))
    assert judge(conditions, sample(0.2, 0.0, 0.0, Mode.CUT_OUT))[AlarmName.TRIPPED] is True


def test_a_supply_that_limits_shows_falling_volts_at_its_amps() -> None:
    conditions = Alone(10.0, LimitKind.HOLDS, 5.0)
    assert judge(conditions, sample(0.0, 9.0, 9.5))[AlarmName.CURRENT_LIMITED] is False
    assert judge(conditions, sample(1.0, 8.6, 9.99))[AlarmName.CURRENT_LIMITED] is True
    assert judge(conditions, sample(2.0, 9.0, 9.5))[AlarmName.CURRENT_LIMITED] is False
    # No current at all after that is the operator: such a supply does not cut out.
    assert judge(conditions, sample(3.0, 0.0, 0.0))[AlarmName.TRIPPED] is False


def test_constant_current_by_the_supplys_own_word_is_limited() -> None:
    conditions = trips()
    found = judge(conditions, sample(0.0, 5.0, 9.0, Mode.CONSTANT_CURRENT))
    assert found[AlarmName.CURRENT_LIMITED] is True


def test_silence_makes_every_other_alarm_unknown() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 5.0))
    assert judge(conditions, Gap(1, 1_000_000_000, 0, "no answer")) == {AlarmName.NO_DATA: None}
    assert judge(conditions, Gap(25, 5_000_000_000, 0, "no answer")) == {AlarmName.NO_DATA: True}
    assert judge(conditions, sample(6.0, 9.0, 5.0))[AlarmName.NO_DATA] is False


def test_values_in_doubt_count_as_silence() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 5.0))
    doubtful = replace(sample(5.2, 9.0, 99.0), quality=Quality.SUSPECT, reason="out of range")
    assert judge(conditions, doubtful) == {AlarmName.NO_DATA: True}


def test_a_supply_that_never_answers_is_missed_from_the_runs_start() -> None:
    conditions = trips()
    assert judge(conditions, Gap(0, 0, 0, "port missing")) == {AlarmName.NO_DATA: None}
    assert judge(conditions, Gap(25, 5_000_000_000, 0, "port missing")) == {AlarmName.NO_DATA: True}


def test_even_odds_raise_and_one_in_five_returns() -> None:
    conditions = trips()

    def expected(chance: float, stands: bool) -> bool | None:
        forecast = Forecast(100.0, 50.0, 200.0, chance)
        return judge(conditions, sample(0.0, 9.0, 9.0), forecast, stands)[AlarmName.TRIP_EXPECTED]

    assert expected(0.51, stands=False) is True
    assert expected(0.49, stands=False) is False
    assert expected(0.21, stands=True) is True
    assert expected(0.19, stands=True) is False


def test_a_warning_outlives_a_missing_forecast_only_near_the_limit() -> None:
    conditions = trips()
    unknown = Forecast(why=NoForecast.VOLTS_CHANGED)
    near, far = sample(0.0, 9.0, 9.5), sample(0.2, 6.0, 6.0)
    assert judge(conditions, near, unknown, stands=True)[AlarmName.TRIP_EXPECTED] is None
    assert judge(conditions, far, unknown, stands=True)[AlarmName.TRIP_EXPECTED] is False


def test_an_output_that_may_have_cut_out_is_told_so_and_is_milder() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 9.4))
    row = sample(0.2, 0.0, 0.0)
    found = {f.alarm: f for f in conditions.judge(row, Estimate(1, 0, NO_RISE, Charge()), True)}
    assert found[AlarmName.TRIPPED].holds
    assert found[AlarmName.TRIPPED].priority is Priority.HIGH
    assert found[AlarmName.TRIPPED].message == "the output went off near the limit of 10 A"
    assert found[AlarmName.TRIPPED].action.startswith("Output OFF. If it cut out:")
    assert conditions.conditions.cut_out is CutOut.POSSIBLE
    assert not conditions.conditions.is_doubtful


def test_where_no_trip_was_expected_an_output_that_went_off_is_no_alarm_but_a_question() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 9.4))
    assert judge(conditions, sample(0.2, 0.0, 0.0))[AlarmName.TRIPPED] is None
    assert conditions.conditions.is_doubtful
    assert not judge(conditions, sample(9.0, 9.0, 5.0))[AlarmName.TRIPPED]
    assert not conditions.conditions.is_doubtful


def test_switched_off_where_the_strips_end_asks_for_it_is_no_alarm() -> None:
    conditions = trips()
    judge(conditions, sample(0.0, 9.0, 9.4))
    estimate = Estimate(1, 0, NO_RISE, Charge())
    found = conditions.judge(sample(0.2, 0.0, 0.0), estimate, False, is_off_awaited=True)
    assert {f.alarm: f.holds for f in found}[AlarmName.TRIPPED] is False
