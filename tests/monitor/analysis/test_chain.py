"""What enters the estimates, what does not, and why there is no forecast."""

import gc
import math
import sys
from dataclasses import replace
from itertools import islice
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import Mode
from monitor.analysis.chain import Chain
from monitor.analysis.forecast import Forecaster
from monitor.model.estimate import Estimate, Forecast, NoForecast
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, Quality, Sample
from tests.monitor.analysis.traces import E0_VOLTS, Made, flat, gap, rising, sample
from tests.monitor.analysis.watching import watch

RISE = Made(rising(0.01), seconds=240.0, wander=0.002, white=0.001, seed=4)


def run(rows: list[Sample | Gap], chain: Chain | None = None) -> list[Estimate]:
    chain = chain or Chain(limit_amps=22.0, poll_s=0.5)
    return [chain.update(row) for row in rows]


def last_forecast(rows: list[Sample | Gap]) -> Forecast:
    return run(rows)[-1].forecast


def test_the_same_rows_give_the_same_estimates() -> None:
    assert run(list(RISE.rows())) == run(list(RISE.rows()))


@settings(max_examples=10)
@given(st.sampled_from([0.01, 0.5, 3.0, 200.0]))
def test_scaling_amps_and_limit_leaves_the_trip_time(factor: float) -> None:
    rows = [
        replace(r, amps=r.amps * factor) for r in RISE.rows() if isinstance(r, Sample) and r.amps
    ]
    once = run(list(RISE.rows()))[-1]
    scaled = [Chain(limit_amps=22.0 * factor, poll_s=0.5)]
    last = [scaled[0].update(row) for row in rows][-1]
    assert once.forecast.trip_in_s is not None
    assert last.forecast.trip_in_s == pytest.approx(once.forecast.trip_in_s, rel=1e-6)
    assert once.siemens is not None
    assert last.siemens == pytest.approx(once.siemens * factor, rel=1e-9)


@settings(max_examples=10)
@given(st.integers(0, 10**16))
def test_shifting_time_shifts_the_answer(by_ns: int) -> None:
    moved = [replace(r, t_ns=r.t_ns + by_ns, utc_ns=r.utc_ns + by_ns) for r in RISE.rows()]
    plain, shifted = run(list(RISE.rows())), run(list(moved))
    assert [e.forecast for e in plain] == [e.forecast for e in shifted]
    assert shifted[-1].t_ns - plain[-1].t_ns == by_ns


BAD = [
    {"amps": None},
    {"volts": None},
    {"amps": math.nan},
    {"volts": math.nan},
    {"amps": math.inf},
    {"amps": 9.91e37},
    {"amps": 65.5, "quality": Quality.SUSPECT},
]


@pytest.mark.parametrize("bad", BAD, ids=str)
def test_what_is_no_reading_never_enters(bad: dict[str, float | None]) -> None:
    """A spoilt poll is to the estimates what an unanswered one is."""

    def estimates(spoil: bool) -> list[Estimate]:
        rows: list[Sample | Gap] = []
        for row in RISE.rows():
            if isinstance(row, Sample) and row.seq % 50 == 49:
                changed = replace(row, **bad)  # type: ignore[arg-type]  # the table is trusted
                rows.append(changed if spoil else gap(row.seq, row.t_s))
            else:
                rows.append(row)
        return run(rows)

    assert estimates(spoil=True) == estimates(spoil=False)


def test_there_is_no_forecast_with_too_little_data() -> None:
    estimates = run(list(RISE.rows()))
    early = [e.forecast for e in estimates if e.t_s < 30.0]
    assert {f.why for f in early} == {"not enough data"}
    assert all(f.trip_in_s is None and f.chance_within_horizon is None for f in early)
    assert estimates[-1].forecast.why is None


def test_no_forecast_goes_across_a_gap() -> None:
    made = replace(RISE, silent=((150.0, 160.0),))
    estimates = run(list(made.rows()))
    assert estimates[-1].forecast.why is None
    withheld = [e for e in estimates if 153.0 <= e.t_s < 166.0]
    assert {e.forecast.why for e in withheld} == {"gap"}
    assert all(e.forecast.chance_within_horizon is None for e in withheld)


def test_a_hole_in_the_times_is_a_gap() -> None:
    rows = [row for row in RISE.rows() if not 150.0 <= row.t_s < 160.0]
    after = next(e for e in run(rows) if e.t_s == 160.0)
    assert after.forecast.why == "gap"


def test_a_rise_that_ended_unseen_is_soon_given_up() -> None:
    """What the slope was is kept in part across a gap; flat from there on, it must go."""
    made = Made(
        lambda t_s: 0.0003 * min(t_s, 150.0), 380.0, wander=0.001, silent=((150.0, 170.0),), seed=2
    )
    last = run(list(made.rows()))[-1]
    assert last.forecast.why == "no rise"
    assert last.siemens_per_minute == pytest.approx(0.0, abs=0.005 * (last.siemens or 0.0))


def test_a_long_silence_leaves_nothing_of_the_slope() -> None:
    long = replace(RISE, silent=((150.0, 800.0),), seconds=830.0, limit_amps=math.inf)
    estimates = [e for e in run(list(long.rows())) if e.t_s > 800.0]
    assert {e.forecast.why for e in estimates if e.t_s < 828.0} == {"gap"}


@pytest.mark.parametrize(("unseen_s", "is_kept"), [(40.0, True), (90.0, False)])
def test_a_short_silence_keeps_the_level(unseen_s: float, is_kept: bool) -> None:
    """A fresh level is as doubtful as one value; one that was kept knows the noise about it."""
    draw, slow = Random(3), 0.0
    forecaster = Forecaster(horizon_s=120.0, bin_s=1.0)
    for t in range(400):
        slow = 0.95 * slow + 0.0019 * draw.gauss(0.0, 1.0)
        forecaster.update(t, float(t), 0.0001 * t + slow, 0.2)
    forecaster.restart(NoForecast.GAP, unseen_s, 6.0)
    after_s = 399.0 + unseen_s
    forecaster.update(round(after_s), after_s, 0.0001 * after_s, 0.2)
    noise, doubt = forecaster.noise, forecaster.trend.level_variance
    assert (doubt < 0.6 * (noise.white + noise.wander)) is is_kept


def test_one_lost_poll_is_not_a_gap() -> None:
    made = replace(RISE, silent=((150.0, 150.5),))
    assert all(e.forecast.why is None for e in run(list(made.rows())) if 150.0 <= e.t_s < 200.0)


@pytest.mark.parametrize("jump_s", [-3600.0, 5.0, 3600.0])
def test_a_jump_of_the_wall_clock_begins_anew(jump_s: float) -> None:
    jump_ns = round(jump_s * 1e9)
    rows = [replace(r, utc_ns=r.utc_ns + jump_ns) if r.t_s >= 150.0 else r for r in RISE.rows()]
    at = next(e for e in run(list(rows)) if e.t_s == 150.0)
    assert at.forecast.why == "gap"


@pytest.mark.parametrize(("jump_s", "is_told"), [(-3600.0, True), (5.0, True), (3600.0, False)])
def test_an_hour_that_only_the_wall_clock_saw_leaves_nothing_of_the_slope(
    jump_s: float, is_told: bool
) -> None:
    """A host that slept: its own clock may have stood still."""
    jump_ns = round(jump_s * 1e9)
    rows = [replace(r, utc_ns=r.utc_ns + jump_ns) if r.t_s >= 150.0 else r for r in RISE.rows()]
    after = next(e for e in run(list(rows)) if e.t_s == 175.0)
    assert (after.forecast.why is None) is is_told


def test_time_that_goes_back_is_passed_over() -> None:
    rows = list(RISE.rows())
    twice = [*rows[:400], rows[399], rows[390], *rows[400:]]
    assert last_forecast(twice).trip_in_s == last_forecast(rows).trip_in_s


def test_a_supply_that_holds_the_current_is_said_to() -> None:
    def last(kind: LimitKind, mode: Mode) -> str | None:
        chain = Chain(limit_amps=20.0, poll_s=0.5, limit_kind=kind)
        rows = [sample(n, n * 0.5, 9.0, 15.0) for n in range(100)]
        rows += [
            sample(n, n * 0.5, 9.0 - (n - 100) * 0.01, 20.0, mode=mode) for n in range(100, 130)
        ]
        return run(list(rows), chain)[-1].forecast.why

    assert last(LimitKind.HOLDS, Mode.UNKNOWN) == "supply is holding the current"
    assert last(LimitKind.TRIPS, Mode.CONSTANT_CURRENT) == "supply is holding the current"
    assert last(LimitKind.HOLDS, Mode.CONSTANT_CURRENT) == "supply is holding the current"


@pytest.mark.parametrize(
    ("volts", "amps", "mode"),
    [
        (0.0, 0.0, Mode.UNKNOWN),
        (0.0, 0.0, Mode.CUT_OUT),
        (1.6, 0.0, Mode.UNKNOWN),
        (9.0, 0.0, Mode.OUTPUT_OFF),
    ],
    ids=["dead", "cut out", "the bath's own volts", "off by its own word"],
)
def test_an_output_that_is_off_is_said_to_be(volts: float, amps: float, mode: Mode) -> None:
    rows = [sample(n, n * 0.5, 9.0, 15.0) for n in range(200)]
    rows += [sample(n, n * 0.5, volts, amps, mode=mode) for n in range(200, 220)]
    estimate = run(list(rows))[-1]
    assert estimate.forecast == Forecast(why=NoForecast.OUTPUT_OFF)
    assert estimate.siemens is None


def test_a_change_of_volts_withdraws_the_forecast_for_a_while() -> None:
    made = replace(RISE, volts=lambda t_s: 9.0 if t_s < 150.0 else 8.0)
    estimates = run(list(made.rows()))
    assert estimates[-1].forecast.why is None
    changed = [e for e in estimates if 150.0 <= e.t_s <= 155.0]
    assert {e.forecast.why for e in changed} == {"volts were changed"}


@pytest.mark.parametrize("to_volts", [6.5, 8.0, 10.0])
def test_a_volt_step_alone_is_no_change_of_the_bath(to_volts: float) -> None:
    """The slope after a step is the slope of the same day without it."""
    day = replace(RISE, seconds=300.0)
    stepped = replace(day, volts=lambda t_s: 9.0 if t_s < 150.0 else to_volts)
    plain, changed = (run(list(made.rows()), Chain(60.0, poll_s=0.5)) for made in (day, stepped))
    for t_s in (170.0, 230.0, 299.0):
        before = next(e for e in plain if e.t_s == t_s)
        after = next(e for e in changed if e.t_s == t_s)
        assert before.siemens_per_minute is not None
        assert after.siemens_per_minute is not None
        assert before.siemens is not None
        assert after.siemens is not None
        slope_before = before.siemens_per_minute / before.siemens
        assert after.siemens_per_minute / after.siemens == pytest.approx(slope_before, abs=0.002)


def test_steps_of_the_volts_on_a_steady_bath_never_raise() -> None:
    made = Made(
        flat,
        1800.0,
        wander=0.004,
        volts=lambda t_s: (9.0, 8.2, 9.3, 7.0, 9.2, 8.8)[int(t_s // 120.0) % 6],
        start_amps=17.0,
        seed=9,
    )
    watched = watch(made.rows(), Chain(limit_amps=20.0, poll_s=0.5))
    assert watched.raised_s == []
    assert max(watched.chances) < 0.5


def test_the_polarisation_voltage_is_learned_from_a_step() -> None:
    """Siemens come out right though the stated polarisation voltage was not."""
    made = Made(flat, 120.0, wander=0.001, volts=lambda t_s: 9.0 if t_s < 60.0 else 6.0)
    chain = Chain(limit_amps=40.0, poll_s=0.5)
    truth = 20.0 / (9.0 - E0_VOLTS)
    estimates = run(list(made.rows()), chain)
    before, after = next(e for e in estimates if e.t_s == 59.0), estimates[-1]
    assert before.siemens != pytest.approx(truth, rel=0.02)
    assert after.siemens == pytest.approx(truth, rel=0.02)
    assert after.siemens_at_start == pytest.approx(truth, rel=0.02)
    assert after.rise_since_start == pytest.approx(0.0, abs=0.01)


def test_a_soft_start_teaches_the_polarisation_voltage_too() -> None:
    made = Made(flat, 60.0, poll_s=0.2, volts=lambda t_s: min(9.0, 0.5 + 2.0 * t_s))
    made = replace(made, start_amps=(0.5 - E0_VOLTS) * 20.0 / (9.0 - E0_VOLTS))
    last = run(list(made.rows()), Chain(limit_amps=40.0, poll_s=0.2))[-1]
    assert last.siemens == pytest.approx(20.0 / 7.0, rel=0.01)


def test_a_lifted_swab_is_not_in_contact_and_does_not_lower_the_bath() -> None:
    made = Made(flat, 200.0, wander=0.003, lifted=lambda t_s: t_s % 40.0 > 36.0)
    estimates = run(list(made.rows()), Chain(limit_amps=40.0, poll_s=0.5))
    for e in estimates:
        assert e.in_contact == (e.t_s % 40.0 <= 36.0)
    assert all(e.siemens == pytest.approx(estimates[20].siemens, rel=0.03) for e in estimates[20:])


def test_a_swab_put_down_for_long_starts_anew() -> None:
    made = replace(RISE, lifted=lambda t_s: 100.0 < t_s < 140.0)
    estimates = run(list(made.rows()))
    assert next(e for e in estimates if e.t_s == 138.0).forecast.why == "not enough data"


def test_the_start_is_the_median_of_a_short_time() -> None:
    rows = [sample(n, n * 0.5, 9.0, 70.0 if n == 9 else 14.0) for n in range(60)]
    last = run(list(rows), Chain(limit_amps=100.0, poll_s=0.5))[-1]
    assert last.siemens_at_start == pytest.approx(14.0 / (9.0 - 1.8), rel=1e-6)


def test_a_measured_rise_of_temperature_is_told_as_warming() -> None:
    """Conductance that follows 1.75 %/K exactly (McCleskey 2011 for 5 % NaOH) is all warming."""
    rows = []
    for n in range(1200):
        celsius = 20.0 + n * 0.01
        amps = 14.0 * (1 + 0.0175 * (celsius - 25.0)) / (1 + 0.0175 * -5.0)
        rows.append(sample(n, n * 0.5, 9.0, amps, celsius))
    last = run(list(rows), Chain(limit_amps=60.0, poll_s=0.5))[-1]
    assert last.warming_share == pytest.approx(1.0, abs=0.05)
    still = [replace(row, celsius=20.0) for row in rows]
    assert run(list(still), Chain(limit_amps=60.0, poll_s=0.5))[-1].warming_share == 0.0
    unknown = [replace(row, celsius=None) for row in rows]
    assert run(list(unknown), Chain(limit_amps=60.0, poll_s=0.5))[-1].warming_share is None


ROWS = st.lists(
    st.tuples(
        st.floats(0.0, 20.0),
        st.one_of(st.none(), st.floats(-1.0, 70.0), st.just(math.nan)),
        st.one_of(st.none(), st.floats(-1.0, 200.0), st.just(math.inf)),
        st.sampled_from(Mode),
        st.sampled_from(Quality),
        st.integers(1, 80),
    ),
    max_size=12,
)


@settings(max_examples=100)
@given(ROWS, st.sampled_from(LimitKind))
def test_no_run_however_odd_breaks_the_chain(
    stretches: list[tuple[float, float | None, float | None, Mode, Quality, int]], kind: LimitKind
) -> None:
    chain = Chain(limit_amps=20.0, poll_s=0.5, limit_kind=kind, bath_litres=0.4)
    seq, t_s = 0, 0.0
    for pause_s, volts, amps, mode, quality, polls in stretches:
        t_s += pause_s
        for n in range(polls):
            seq, t_s = seq + 1, t_s + 0.5
            drawn = None if amps is None else amps * (1.0 + 0.003 * n)
            told = chain.update(sample(seq, t_s, volts, drawn, mode=mode, quality=quality))
            forecast = told.forecast
            assert (forecast.why is None) == (forecast.trip_in_s is not None)
            if forecast.trip_in_s is not None:
                assert forecast.trip_in_low_s is not None
                assert forecast.trip_in_low_s <= forecast.trip_in_s
                assert forecast.trip_in_s <= (forecast.trip_in_high_s or math.inf)
            assert 0.0 <= (forecast.chance_within_horizon or 0.0) <= 1.0
            assert told.siemens is None or told.siemens > 0.0


def test_memory_does_not_grow_with_the_run() -> None:
    made = Made(rising(0.0001), 40_000.0, poll_s=1.0, wander=0.004, lifted=lambda t: t % 60 > 56)
    chain = Chain(limit_amps=60.0, poll_s=1.0)
    rows = made.rows()

    def size_after(n: int) -> int:
        for row in islice(rows, n):
            chain.update(row)
        gc.collect()
        return _size_of(chain)

    early = size_after(2_000)
    assert size_after(20_000) <= early + 2_000


def _size_of(thing: object) -> int:
    total, seen, queue = 0, set(), [thing]
    while queue:
        item = queue.pop()
        if id(item) in seen or isinstance(item, type):
            continue
        seen.add(id(item))
        total += sys.getsizeof(item)
        if type(item).__module__.startswith("monitor.") or isinstance(item, list | tuple | dict):
            queue.extend(gc.get_referents(item))
    return total


def rising_stack(seconds_a_step: float = 6.0) -> list[Sample]:
    """A hand brings 34 cells up in steps: each charges their layers; at last current flows."""
    rows: list[Sample] = []
    t_s = 0.0
    for volts in (50.0, 55.0, 58.0, 60.0, 63.0, 66.0, 68.0, 68.0, 68.0):
        for n in range(int(2.0 * seconds_a_step)):
            through = max(volts - 34.0 * 1.7, 0.0)
            charging = 0.3 * volts * math.exp(-n)
            rows.append(sample(len(rows), t_s, volts, 1.5 * through + charging))
            t_s += 0.5
    return rows


def test_a_stack_that_is_brought_up_is_no_swab_work() -> None:
    """The settings know of one cell: a step of the volts looks like a lift and its end."""
    chain = Chain(limit_amps=40.0, poll_s=0.5)
    for row in rising_stack():
        chain.update(row)
        assert not chain.is_swab
