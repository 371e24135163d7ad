"""Heat, density and connections: raised and returned at their edges."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms.board import Board
from monitor.alarms.catalogue import BY_NAME
from monitor.alarms.circuit_conditions import CircuitConditions
from monitor.analysis.drop import Drop
from monitor.model.alarm import AlarmName, Change
from monitor.model.card import JobCard
from monitor.model.estimate import Charge, Estimate, Forecast, Heat
from monitor.model.finding import Finding
from monitor.model.fittings import Conductor, Fittings, Job
from monitor.model.run import RunFacts
from monitor.model.step import JobStep
from monitor.watch.vigil import Vigil
from tests.monitor.analysis.traces import sample

NO_HEAT = Heat()
HOT = Fittings(most_celsius=45.0, job=Job(area_dm2=2.0, most_amps_per_dm2=5.0))


def found(
    alarm: AlarmName,
    conditions: CircuitConditions,
    heat: Heat = NO_HEAT,
    volts: float = 8.0,
    amps: float = 5.0,
    t_s: float = 1.0,
    drop: Drop | None = None,
) -> Finding:
    estimate = Estimate(
        1, round(t_s * 1e9), Forecast(), Charge(), heat=heat, polarisation_volts=2.0
    )
    return {one.alarm: one for one in conditions.judge(volts, amps, estimate, drop)}[alarm]


def test_a_conductor_on_its_way_to_its_heat_is_told_with_its_time() -> None:
    conditions = CircuitConditions(HOT)
    assert not found(AlarmName.OVERHEATING, conditions, Heat("sleeve", 0.5, 121.0)).holds
    told = found(AlarmName.OVERHEATING, conditions, Heat("sleeve", 0.6, 80.0))
    assert told.holds
    assert "the sleeve reaches the heat it can take in about 80 s" in told.message
    # Dead-band: it stands until twice the time is left.
    assert found(AlarmName.OVERHEATING, conditions, Heat("sleeve", 0.6, 200.0)).holds
    assert not found(AlarmName.OVERHEATING, conditions, Heat("sleeve", 0.6, 250.0)).holds


def test_a_bath_on_its_way_to_its_limit_is_told_with_its_time() -> None:
    told = found(AlarmName.OVERHEATING, CircuitConditions(HOT), Heat(bath_in_s=240.0))
    assert told.holds
    assert told.message == "the bath reaches 45 C in about 4.0 min"


def test_another_thing_that_gets_hot_sounds_again_though_the_first_was_acknowledged() -> None:
    board, conditions = Board(), CircuitConditions(HOT)
    told = []
    for n in range(60):
        bath_in_s = 200.0 if n >= 30 else None
        heat = Heat("sleeve", 0.6, 80.0, bath_in_s)
        estimate = Estimate(n, n * 500_000_000, Forecast(), Charge(), heat=heat)
        findings = conditions.judge(8.0, 5.0, estimate)
        row = sample(n, n * 0.5, 8.0, 5.0)
        told += [
            (e.change, e.occurrence, e.t_s, e.message)
            for e in board.update(row, findings, Forecast())
            if e.alarm == AlarmName.OVERHEATING
        ]
        if n == 10:
            assert board.acknowledge(AlarmName.OVERHEATING, 1, "Ana", n, row.t_ns) is not None
    assert [one[:3] for one in told] == [
        (Change.RAISED, 1, 2.0),
        (Change.RETURNED, 1, 15.0),
        (Change.RAISED, 2, 15.0),
    ]
    assert told[2][3].endswith("the bath reaches 45 C in about 3.3 min")


def test_density_has_a_dead_band() -> None:
    conditions = CircuitConditions(HOT)
    holds = [
        found(AlarmName.DENSITY_HIGH, conditions, Heat(amps_per_dm2=density)).holds
        for density in (4.9, 5.1, 4.8, 4.7)
    ]
    assert holds == [False, True, True, False]


def test_a_hot_conductor_is_told_with_the_volts_that_cool_it() -> None:
    fittings = Fittings((Conductor("sleeve", 4.0, 60.0, 1.05),))
    told = found(AlarmName.OVERHEATING, CircuitConditions(fittings), Heat("sleeve", 0.6, 80.0))
    # 95 % of 4.2 A from 5 A at 8 V behind 2 V: 2 + 6 * 3.99 / 5 = 6.79 V (Ohm's law).
    assert told.action == "Output OFF or turn down to 6.7 V. Touch nothing hot."
    bath = found(AlarmName.OVERHEATING, CircuitConditions(HOT), Heat(bath_in_s=240.0))
    assert bath.action == ""


def test_a_connection_is_told_where_it_comes_and_goes() -> None:
    conditions, alarm = CircuitConditions(Fittings()), AlarmName.CONNECTION_RESISTANCE
    once, twice = (Drop(100.0, 8.0, 5.0, 4.0, times) for times in (1, 2))
    assert not found(alarm, conditions, t_s=100.0, drop=once).holds
    told = found(alarm, conditions, t_s=200.0, drop=replace(twice, t_s=200.0))
    assert told.holds
    # 6 V over the electrodes' 2 V; a fifth of the amps gone: 6 V * 4 A * (1 - 4/5) = 4.8 W.
    assert "2 times: a loose connection, with up to 5 W of heat in it" in told.message
    assert found(alarm, conditions, t_s=499.0).holds
    assert not found(alarm, conditions, t_s=501.0).holds


def test_a_loose_connection_that_makes_no_heat_is_not_told() -> None:
    drop = Drop(1.0, 8.0, 0.5, 0.4, 2)
    assert not found(
        AlarmName.CONNECTION_RESISTANCE, CircuitConditions(Fittings()), drop=drop
    ).holds


@given(st.floats(3.0, 90.0), st.floats(0.1, 60.0), st.floats(0.05, 0.88), st.floats(0.0, 80.0))
def test_no_connection_turns_more_into_heat_than_the_supply_gives(
    volts: float, amps: float, share: float, intercept: float
) -> None:
    drop = Drop(0.0, volts, amps, share * amps)
    assert 0.0 <= drop.watts(intercept) <= volts * drop.to_amps


def test_the_density_is_that_of_the_step_on_the_card() -> None:
    given_ = Fittings(
        job=Job(area_dm2=2.0, most_amps_per_dm2=5.0),
        steps=(JobStep("clean", (4.0, 8.0), amps_per_dm2=(1.0, 3.0)), JobStep("rinse")),
    )
    clean, rinse = (
        CircuitConditions(given_.for_card(JobCard(step=name))) for name in ("clean", "rinse")
    )
    assert found(AlarmName.DENSITY_HIGH, clean, Heat(amps_per_dm2=4.0)).holds
    assert not found(AlarmName.DENSITY_HIGH, rinse, Heat(amps_per_dm2=4.0)).holds


def test_what_a_cut_out_explains_is_not_raised_beside_it() -> None:
    for name in (
        AlarmName.CONNECTION_RESISTANCE,
        AlarmName.OUTSIDE_VOLTAGE_WINDOW,
        AlarmName.VOLTS_HIGH,
    ):
        assert AlarmName.TRIPPED in BY_NAME[name].suppressed_by


def test_a_hot_sleeve_is_an_alarm_of_the_whole_watch() -> None:
    fittings = Fittings((Conductor("sleeve", 4.0, 60.0),))
    vigil = Vigil(RunFacts("bench-1", "", limit_amps=10.0, poll_s=0.5), fittings=fittings)
    raised = [
        event.t_s
        for n in range(120)
        for event in vigil.update(sample(n, n * 0.5, 8.0, 5.0)).events
        if event.alarm == AlarmName.OVERHEATING and event.change is Change.RAISED
    ]
    # tau ln(I^2 / (I^2 - (k Ib)^2)) = 60 ln(25/9) = 61.3 s from cold (IEC 60255-149): at once.
    assert len(raised) == 1
    assert raised[0] < 5.0
