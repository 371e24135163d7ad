"""The sentences of the conditions, word by word, and each condition at its very edge."""

from dataclasses import replace

import pytest

from drivers.reading import Mode
from monitor.alarms.conditions import RAISE_ABOVE, RETURN_BELOW
from monitor.analysis.cut_out import DEAD_AMPS, NEAR_LIMIT
from monitor.model.alarm import AlarmName
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.finding import Finding
from monitor.model.fittings import Fittings, VoltsWindow
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, Quality, Sample
from tests.monitor.alarms.rows import Alone, sample

NO_RISE = Forecast(why=NoForecast.NO_RISE)
UNKNOWN = Forecast(why=NoForecast.VOLTS_CHANGED)


def found(
    conditions: Alone,
    row: Sample | Gap,
    forecast: Forecast = NO_RISE,
    stands: bool = False,
    siemens: float | None = None,
) -> dict[str, Finding]:
    estimate = Estimate(row.seq, row.t_ns, forecast, Charge(), siemens)
    return {one.alarm: one for one in conditions.judge(row, estimate, stands)}


def of_kind(kind: LimitKind = LimitKind.TRIPS) -> Alone:
    return Alone(10.0, kind, 5.0)


@pytest.mark.parametrize(
    ("seconds", "low", "high", "says"),
    [
        (0.4, None, None, "0 s"),
        (-3.0, None, None, "0 s"),
        (89.9, 50.0, 90.0, "90 s (50 s to 1.5 min)"),
        (90.0, 60.0, None, "1.5 min (60 s to over an hour)"),
        (599.0, 300.0, 600.0, "10.0 min (5.0 min to 10 min)"),
        (600.0, 450.0, 3600.0, "10 min (7.5 min to 60 min)"),
        (3601.0, 1800.0, 9000.0, "over an hour (30 min to over an hour)"),
    ],
)
def test_when_the_supply_cuts_out_is_said_in_few_digits(
    seconds: float, low: float | None, high: float | None, says: str
) -> None:
    forecast = Forecast(seconds, low, high, 0.9)
    told = found(of_kind(), sample(0.0, 9.0, 9.0), forecast)[AlarmName.TRIP_EXPECTED]
    assert told.message == f"the supply cuts out at 10 A in about {says}"
    assert told.at_once is False
    told = found(of_kind(LimitKind.HOLDS), sample(0.0, 9.0, 9.0), forecast)[AlarmName.TRIP_EXPECTED]
    assert told.message == f"the supply comes to its limit at 10 A in about {says}"


def test_a_warning_that_outlives_its_forecast_says_that_none_is_in_sight() -> None:
    told = found(of_kind(), sample(0.0, 9.0, 9.5), UNKNOWN, stands=True)[AlarmName.TRIP_EXPECTED]
    assert (told.holds, told.message) == (None, "no trip is expected now")


def test_without_a_forecast_a_warning_is_not_taken_back_and_none_is_given() -> None:
    assert found(of_kind(), sample(0.0, 9.0, 9.5), UNKNOWN)[AlarmName.TRIP_EXPECTED].holds is None
    assert found(of_kind(), sample(0.0, 9.0, 9.5))[AlarmName.TRIP_EXPECTED].holds is False
    assert (
        found(of_kind(), sample(0.0, 9.0, 9.5), stands=True)[AlarmName.TRIP_EXPECTED].holds is False
    )


@pytest.mark.parametrize(
    ("amps", "mode", "says"),
    [
        (9.95, Mode.UNKNOWN, "the supply cut out after 9.95 A (limit 10 A)"),
        (5.0, Mode.CUT_OUT, "the supply cut out after 5.00 A (limit 10 A)"),
    ],
)
def test_a_cut_out_says_after_how_many_amps(amps: float, mode: Mode, says: str) -> None:
    conditions = of_kind()
    found(conditions, sample(0.0, 9.0, amps))
    told = found(conditions, sample(0.2, 0.0, 0.0, mode))[AlarmName.TRIPPED]
    assert (told.holds, told.message, told.priority) == (True, says, None)


def test_a_cut_out_that_was_there_before_anything_flowed_says_no_amps() -> None:
    told = found(of_kind(), sample(0.0, 0.0, 0.0, Mode.CUT_OUT))[AlarmName.TRIPPED]
    assert told.message == "the supply cut out (limit 10 A)"


@pytest.mark.parametrize(
    ("amps", "says"), [(9.95, "the supply has cut out"), (9.4, "the output is off")]
)
def test_a_cut_out_ends_the_warning_at_once(amps: float, says: str) -> None:
    conditions = of_kind()
    found(conditions, sample(0.0, 9.0, amps))
    told = found(conditions, sample(0.2, 0.0, 0.0), stands=True)[AlarmName.TRIP_EXPECTED]
    assert (told.holds, told.message, told.at_once) == (False, says, True)
    told = found(conditions, sample(0.4, 0.0, 0.0))[AlarmName.TRIP_EXPECTED]
    assert (told.holds, told.message, told.at_once) == (False, "no trip is expected now", True)
    high = Forecast(60.0, 30.0, 90.0, 0.9)
    assert found(conditions, sample(0.6, 0.0, 0.0), high)[AlarmName.TRIP_EXPECTED].holds is False


def test_a_short_is_told_by_the_cut_out_that_it_made() -> None:
    conditions = of_kind()
    found(conditions, sample(0.0, 9.0, 5.0), siemens=0.7)
    short = found(conditions, sample(0.2, 0.9, 12.0))[AlarmName.SHORT]
    assert (short.holds, short.at_once) == (True, False)
    told = found(conditions, sample(0.4, 0.0, 0.0))
    assert told[AlarmName.TRIPPED].holds is True
    assert told[AlarmName.SHORT] == Finding(
        AlarmName.SHORT, False, "the supply has cut out on the short", at_once=True
    )


def test_silence_is_counted_from_the_last_good_reading() -> None:
    conditions = of_kind()
    found(conditions, sample(100.0, 9.0, 5.0))
    gap = Gap(520, 104_900_000_000, 0, "no answer")
    assert found(conditions, gap)[AlarmName.NO_DATA].holds is None
    found(conditions, sample(110.0, 9.0, 5.0))
    gap = Gap(574, 114_900_000_000, 0, "no answer", "bench-1: no answer in 0.5 s")
    told = found(conditions, gap)[AlarmName.NO_DATA]
    assert told.holds is None
    assert told.message == "no good reading for 5 s: bench-1: no answer in 0.5 s"
    told = found(conditions, replace(gap, t_ns=115_000_000_000, detail=""))[AlarmName.NO_DATA]
    assert (told.holds, told.message) == (True, "no good reading for 5 s: no answer")


@pytest.mark.parametrize("missing", ["volts", "amps"])
def test_half_a_reading_is_silence(missing: str) -> None:
    row = replace(sample(6.0, 9.0, 5.0), quality=Quality.GOOD, **{missing: None})  # type: ignore[arg-type]  # a value of either
    told = found(of_kind(), row)
    assert list(told) == [AlarmName.NO_DATA]
    assert told[AlarmName.NO_DATA].message == "no good reading for 0 s: the supply gave no value"
    told = found(of_kind(), replace(row, reason="out of range"))
    assert told[AlarmName.NO_DATA].message == "no good reading for 0 s: out of range"


def test_a_cut_out_counts_as_seen_within_the_silence_that_the_settings_allow() -> None:
    conditions = Alone(10.0, LimitKind.TRIPS, 60.0)
    found(conditions, sample(0.0, 9.0, 9.95))
    found(conditions, sample(50.0, 0.0, 0.0))
    assert conditions.conditions.cut_out.is_sure, "seen, since silence of a minute is nothing here"


def test_edges_of_the_odds() -> None:
    def holds(chance: float, stands: bool) -> bool | None:
        forecast = Forecast(100.0, 50.0, 200.0, chance)
        return found(of_kind(), sample(0.0, 9.0, 9.0), forecast, stands)[
            AlarmName.TRIP_EXPECTED
        ].holds

    assert holds(RAISE_ABOVE, stands=False) is False
    assert holds(RETURN_BELOW, stands=True) is False
    at = sample(0.0, 9.0, NEAR_LIMIT * 10.0)
    assert found(of_kind(), at, UNKNOWN, stands=True)[AlarmName.TRIP_EXPECTED].holds is None


def test_what_the_supply_says_of_its_current_is_believed() -> None:
    limits = of_kind(LimitKind.HOLDS)
    told = found(limits, sample(0.0, 5.0, 9.0, Mode.CONSTANT_CURRENT))[AlarmName.CURRENT_LIMITED]
    assert told.message == "the supply holds 9.00 A; the volts have fallen to 5.00 V"
    dead = sample(0.2, 5.0, DEAD_AMPS * 10.0, Mode.CONSTANT_CURRENT)
    assert found(limits, dead)[AlarmName.CURRENT_LIMITED].holds is False
    # It says that it holds the volts: what they and the amps look like then settles nothing.
    found(limits, sample(0.4, 9.0, 9.5, Mode.CONSTANT_VOLTAGE))
    sagging = sample(0.6, 8.0, 10.0, Mode.CONSTANT_VOLTAGE)
    assert found(limits, sagging)[AlarmName.CURRENT_LIMITED].holds is False
    # One that is said to trip holds all the same, where its volts give way and the amps do not.
    trips = of_kind()
    found(trips, sample(0.0, 9.0, 9.5))
    assert found(trips, sample(0.2, 8.0, 10.0))[AlarmName.CURRENT_LIMITED].holds is True


def test_a_supply_that_holds_is_let_go_only_past_a_dead_band() -> None:
    def held(*levels: tuple[float, float]) -> list[bool | None]:
        """Ten seconds at each level of volts and amps, after ten at 10 V and 9 A."""
        limits = of_kind(LimitKind.HOLDS)
        ends = []
        for place, (volts, amps) in enumerate([(10.0, 9.0), *levels]):
            for n in range(50):
                told = found(
                    limits,
                    sample(10.0 * place + 0.2 * n, volts + 0.01 * (n % 2), amps + 0.01 * (n % 2)),
                )
            ends.append(told[AlarmName.CURRENT_LIMITED].holds)
        return ends[1:]

    assert held((9.6, 9.9), (9.6, 9.8), (9.8, 9.8), (10.0, 9.6)) == [True, True, True, False]
    assert held((9.6, 9.9), (9.6, 9.4), (9.4, 9.9)) == [True, False, True]
    # Amps that fall with the volts are the operator's: there nothing has sagged.
    assert held((9.6, 8.5), (9.6, 8.9)) == [False, False]


def test_what_was_held_is_forgotten_once_the_supply_tells_its_mode() -> None:
    limits = of_kind(LimitKind.HOLDS)
    found(limits, sample(0.0, 10.0, 9.0))
    assert found(limits, sample(0.2, 9.6, 9.9))[AlarmName.CURRENT_LIMITED].holds is True
    # It says that it holds the volts: they are the operator's, who has turned them down.
    found(limits, sample(0.4, 8.0, 7.0, Mode.CONSTANT_VOLTAGE))
    found(limits, sample(0.6, 8.0, 7.0, Mode.CONSTANT_VOLTAGE))
    assert found(limits, sample(0.8, 8.0, 9.9))[AlarmName.CURRENT_LIMITED].holds is False


def test_nothing_was_held_before_the_first_sample() -> None:
    limits = of_kind(LimitKind.HOLDS)
    assert found(limits, sample(0.0, 9.84, 9.7))[AlarmName.CURRENT_LIMITED].holds is False


def test_silence_from_before_the_polls_went_on_is_not_counted() -> None:
    conditions = of_kind()
    found(conditions, sample(0.0, 9.0, 5.0))
    conditions.conditions.go_on(100.0)
    gap = Gap(520, 104_000_000_000, 0, "no answer")
    told = found(conditions, gap)[AlarmName.NO_DATA]
    assert (told.holds, told.message) == (None, "no good reading for 4 s: no answer")


def test_another_card_brings_its_own_window() -> None:
    conditions = of_kind()
    assert found(conditions, sample(0.0, 2.0, 5.0))[AlarmName.OUTSIDE_VOLTAGE_WINDOW].holds is True
    conditions.conditions.refit(Fittings(window=VoltsWindow(4.0, 8.0)))
    assert found(conditions, sample(0.2, 5.0, 5.0))[AlarmName.OUTSIDE_VOLTAGE_WINDOW].holds is False
