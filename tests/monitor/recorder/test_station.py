"""A station and a scripted driver: every due poll is a row, and a link comes back by itself."""

import random
import threading
from dataclasses import replace
from itertools import pairwise

import pytest

from drivers.errors import (
    DriverError,
    GarbledAnswer,
    NoAnswer,
    PortBusy,
    PortDenied,
    PortMissing,
    Reopen,
    SupplyRefused,
    SupplySilent,
    SupplyUnreadable,
    WrongSupply,
)
from drivers.reading import Identity, Reading
from monitor.model.alarm import AlarmName, State
from monitor.model.sample import Gap, Quality, Sample
from monitor.recorder.pause import PauseWatch
from monitor.recorder.schedule import Schedule
from monitor.recorder.station import LAST_RETRY_S, SPREAD, Station, keep_polling
from monitor.watch.vigil import Vigil
from tests.monitor.recorder.scripted import FACTS, GOOD, UTC_NS, Bench, Step


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_a_sample_is_stamped_at_the_middle_of_question_and_answer(bench: Bench) -> None:
    bench.driver.takes_s = 0.1
    bench.poll(2)
    second = bench.rows[1]
    assert isinstance(second, Sample)
    assert (second.seq, second.t_ns, second.latency_us) == (1, 250_000_000, 100_000)
    assert second.utc_ns == UTC_NS + 250_000_000


def test_values_are_stamped_when_they_were_measured_and_not_when_the_poll_began(
    bench: Bench,
) -> None:
    # The way back into step takes the first 0.8 s of a poll of 0.9 s.
    def answer() -> Reading:
        ended_ns = bench.clock.now_ns
        return replace(GOOD, span_ns=(ended_ns - 100_000_000, ended_ns - 50_000_000))

    bench.driver.takes_s = 0.9
    bench.driver.answers = answer
    bench.poll()
    row = bench.rows[0]
    assert isinstance(row, Sample)
    assert (row.t_ns, row.latency_us) == (825_000_000, 50_000)


def test_silence_is_recorded_as_a_gap_with_its_reason(bench: Bench) -> None:
    bench.driver.answers = lambda: NoAnswer("bench-1 did not answer MEAS:VOLT? within 0.5 s")
    bench.poll()
    row = bench.rows[0]
    assert isinstance(row, Gap)
    assert (row.seq, row.t_ns, row.reason) == (0, 0, "no answer")
    assert "MEAS:VOLT?" in row.detail
    assert bench.driver.is_open, "an unanswered question is no reason to give the link up"


def test_a_slow_answer_costs_polls_that_are_written_down_and_never_made_up(bench: Bench) -> None:
    bench.poll()
    bench.driver.takes_s = 1.0
    bench.poll()
    bench.driver.takes_s = 0.01
    bench.poll(2)
    times = [row.t_ns for row in bench.rows]
    assert times == sorted(set(times)), "a slow answer is stamped no later than what it cost"
    kinds = [(row.seq, isinstance(row, Sample)) for row in bench.rows]
    assert kinds == [
        (0, True),
        (1, True),
        (2, False),
        (3, False),
        (4, False),
        (5, False),
        (6, True),
        (7, True),
    ]


def test_values_in_doubt_are_kept_and_marked(bench: Bench) -> None:
    bench.driver.answers = lambda: Reading(9.0, 99.0, doubt="99 A is over the supply's 40 A")
    bench.poll()
    row = bench.rows[0]
    assert isinstance(row, Sample)
    assert (row.amps, row.quality, row.reason) == (
        99.0,
        Quality.SUSPECT,
        "99 A is over the supply's 40 A",
    )


def test_no_value_is_a_suspect_row_and_not_a_number(bench: Bench) -> None:
    bench.driver.answers = lambda: Reading(9.0, None)
    bench.poll()
    row = bench.rows[0]
    assert isinstance(row, Sample)
    assert (row.amps, row.quality) == (None, Quality.SUSPECT)


def test_a_lost_link_is_opened_again_with_growing_waits_that_never_pass_the_cap(
    bench: Bench,
) -> None:
    bench.poll()
    bench.driver.answers = lambda: Reopen("the adapter went away")
    bench.driver.opens = lambda: PortMissing("there is no /dev/none")
    bench.poll(5 * 120)
    times_s = [ns / 1e9 for ns in bench.driver.opened_at_ns[1:]]
    waits = [later - sooner for sooner, later in pairwise(times_s)]
    assert waits[0] <= 1.2
    assert max(waits) <= LAST_RETRY_S + FACTS.poll_s + 1e-6
    assert min(waits[-5:]) >= (1.0 - SPREAD) * LAST_RETRY_S - 1e-6
    assert [row.seq for row in bench.rows] == list(range(601))
    assert {row.reason for row in bench.rows if isinstance(row, Gap)} == {
        "link lost",
        "port missing",
    }
    bench.driver.opens = lambda: Identity("sim", "1")
    bench.driver.answers = lambda: GOOD
    bench.poll(round(LAST_RETRY_S / FACTS.poll_s) + 1)
    assert isinstance(bench.rows[-1], Sample)


def test_ten_minutes_of_refusals_are_few_tries_and_two_supplies_do_not_try_at_once() -> None:
    tried: list[list[int]] = []
    for run in (1, 2):
        bench = Bench(run)
        bench.poll()
        bench.driver.answers = lambda: Reopen("the gateway went away")
        bench.driver.opens = lambda: PortMissing("nothing listens there")
        bench.poll(5 * 600)
        tried.append(bench.driver.opened_at_ns[1:])
        assert len(tried[-1]) <= 600 / ((1.0 - SPREAD) * LAST_RETRY_S) + 6
    together = set(tried[0][4:]) & set(tried[1][4:])
    assert len(together) < len(tried[0]) / 4


def test_another_supply_at_the_same_address_gives_no_sample(bench: Bench) -> None:
    bench.poll()
    bench.driver.answers = lambda: Reopen("the adapter went away")
    bench.poll()
    bench.driver.answers = lambda: GOOD
    bench.driver.opens = lambda: Identity("another", "2")
    bench.poll(100)
    later = bench.rows[2:]
    assert all(isinstance(row, Gap) for row in later)
    assert {row.reason for row in later if isinstance(row, Gap)} >= {WrongSupply.reason}
    assert not bench.driver.is_open


def test_silence_raises_no_data_and_an_answer_returns_it(bench: Bench) -> None:
    bench.poll()
    bench.driver.answers = lambda: GarbledAnswer("noise")
    bench.poll(30)
    bench.driver.answers = lambda: GOOD
    bench.poll()
    events = [event for verdict in bench.verdicts for event in verdict.events]
    assert [(event.alarm, event.change.value) for event in events] == [
        (AlarmName.NO_DATA, "raised"),
        (AlarmName.NO_DATA, "returned"),
    ]
    assert 5.0 <= events[0].t_s <= 5.4


SILENT = [
    NoAnswer,
    GarbledAnswer,
    SupplyRefused,
    Reopen,
    PortBusy,
    PortMissing,
    PortDenied,
    SupplySilent,
    SupplyUnreadable,
]


@pytest.mark.parametrize("failure", SILENT)
def test_whatever_keeps_readings_from_coming_is_no_data_in_time(
    bench: Bench, failure: type[DriverError]
) -> None:
    bench.poll(10)
    last_good_s = bench.rows[-1].t_s
    bench.driver.answers = lambda: failure("in a test")
    bench.driver.opens = lambda: failure("in a test")
    bench.poll(60)
    (raised,) = [event for verdict in bench.verdicts for event in verdict.events]
    assert (raised.alarm, raised.state) == (AlarmName.NO_DATA, State.UNACKNOWLEDGED)
    # Five seconds, three polls at the least, and one poll more to find it out.
    assert raised.t_s - last_good_s <= 5.0 + 2 * FACTS.poll_s
    bench.driver.answers = lambda: GOOD
    bench.driver.opens = lambda: Identity("sim", "1")
    bench.poll(80)
    back = [event for verdict in bench.verdicts for event in verdict.events][-1]
    assert (back.alarm, back.state) == (AlarmName.NO_DATA, State.RETURNED_UNACKNOWLEDGED)


def test_an_hour_of_slow_answers_keeps_the_rhythm_and_a_stall_is_never_made_up() -> None:
    bench, chance = Bench(), random.Random(5)
    bench.station.schedule = Schedule(bench.clock.now_ns, 1.0)
    for number in range(3600):
        bench.driver.takes_s = 10.0 if number == 1800 else chance.uniform(0.0, 0.9)
        bench.poll()
    asked_s = [row.t_s - row.latency_us / 2e6 for row in bench.rows if isinstance(row, Sample)]
    polls = bench.rows[-1].seq - bench.rows[0].seq
    # Each question goes out at its place of the grid, whatever the answers before it took.
    assert (asked_s[-1] - asked_s[0]) / polls == pytest.approx(1.0, abs=0.001)
    assert min(later - sooner for sooner, later in pairwise(asked_s)) > 0.9
    assert [row.seq for row in bench.rows] == list(range(len(bench.rows)))


def test_what_was_asked_is_done_before_the_next_poll(bench: Bench) -> None:
    seen: list[Vigil] = []
    bench.station.ask(seen.append)
    assert seen == []
    bench.poll()
    assert seen == [bench.station.vigil]


def test_two_stations_on_one_port_take_turns_and_give_their_links_back() -> None:
    one, two = Bench(), Bench()
    clock = one.clock
    stop = threading.Event()
    stations = []
    for bench in (one, two):
        bench.clock = bench.driver.clock = clock
        stations.append(
            Station(1, bench.driver, Vigil(FACTS), Schedule(clock.now_ns, 0.2), clock.now_ns,
                    clock, clock, bench.take)
        )  # fmt: skip

    def answer() -> Step:
        if len(two.rows) == 20:
            stop.set()
        return GOOD

    two.driver.answers = answer
    keep_polling(stations, clock, stop, PauseWatch(clock, clock, asleep=lambda: 0))
    assert abs(len(one.rows) - len(two.rows)) <= 1
    assert one.driver.closed == two.driver.closed == 1
