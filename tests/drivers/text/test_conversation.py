"""The numbered rules of a conversation, each with its test, in time that the test holds."""

import pytest

from drivers.errors import GarbledAnswer, NoAnswer, NotUnderstood, SupplyRefused, SupplySilent
from drivers.link.asking_link import AskingLink
from drivers.link.dialogue import SETTLE_TIMEOUTS, SILENT_LIMIT
from drivers.promises import Fault
from drivers.text.conversation import Conversation
from drivers.text.scpi_question import ScpiQuestion
from drivers.text.text_question import wires
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.fake_supply import IDENTITY, FakeSupply
from tests.drivers.spoiling import Piece

IDN = ScpiQuestion("*IDN?")
VOLTS = ScpiQuestion("MEAS:VOLT?")
VERSION = ScpiQuestion("SYST:VERS?")
UNKNOWN = ScpiQuestion("NO:SUCH?")
TIMEOUT_S = 0.1


class Bench:
    """A conversation that is in step, and all that it talks with."""

    def __init__(self) -> None:
        self.clock = HandClock()
        self.supply = FakeSupply()
        self.link = FakeLink(self.supply, self.clock)
        self.link.open(0)
        asking = AskingLink(self.link, wires([IDN, VOLTS, VERSION, UNKNOWN]))
        self.talk = Conversation(asking, self.clock, TIMEOUT_S, 0.02, "bench-1")
        self.talk.begin(1000.0)
        assert self.talk.ask_unproven(IDN) == IDENTITY
        self.talk.set_sentinel(IDN, IDENTITY)
        self.supply.received.clear()

    def volts(self) -> float:
        return self.talk.ask(VOLTS, float_of)

    @property
    def asked(self) -> list[bytes]:
        """What was asked since this was last looked at."""
        asked = list(self.supply.received)
        self.supply.received.clear()
        return asked

    def at_rest(self) -> bool:
        """True where the next question goes out without a sentinel before it."""
        self.supply.fault = Fault.NONE
        self.asked.clear()
        self.volts()
        return self.asked == [b"MEAS:VOLT?"]


def float_of(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise NotUnderstood("not a number") from None


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_in_step_a_question_costs_one_message(bench: Bench) -> None:
    assert [bench.volts(), bench.volts()] == [6.001, 6.002]
    assert bench.asked == [b"MEAS:VOLT?", b"MEAS:VOLT?"]
    assert bench.talk.tally.resyncs == 0


@pytest.mark.parametrize("stray", [b"99.9\n", b"99", b"READY\r\n", b"\xff"])
def test_rule_1_what_waits_before_a_question_means_out_of_step(bench: Bench, stray: bytes) -> None:
    bench.link.send(Piece(0.0, stray))
    assert bench.volts() == 6.001
    assert bench.asked == [b"*IDN?", b"MEAS:VOLT?"]
    assert bench.talk.tally.late == 1


@pytest.mark.parametrize("nothing", [b"\n", b"\r", b"\r\n", b"\0", b"\0\r\n\n"])
def test_the_rest_of_an_ending_is_nothing(bench: Bench, nothing: bytes) -> None:
    bench.link.send(Piece(0.0, nothing))
    assert bench.at_rest()


def test_an_ending_that_comes_in_two_parts_disturbs_nothing(bench: Bench) -> None:
    bench.supply.ends_with = b"\r"
    bench.volts()
    bench.link.send(Piece(0.0, b"\n"))
    bench.supply.spoil = lambda answer: [Piece(0.0, b"\n"), Piece(0.0, answer)]  # type: ignore[method-assign]  # the line feed comes after the next question went out
    bench.volts()
    assert bench.asked == [b"MEAS:VOLT?", b"MEAS:VOLT?"]


def answers(bench: Bench, *pieces: bytes) -> None:
    """The next message is answered by these bytes, all others properly."""
    real = FakeSupply.spoil.__get__(bench.supply)

    def spoil(answer: bytes) -> list[Piece]:
        bench.supply.spoil = real  # type: ignore[method-assign]  # one message only
        return [Piece(0.0, piece) for piece in pieces]

    bench.supply.spoil = spoil  # type: ignore[method-assign]  # a fault of its own


@pytest.mark.parametrize(
    ("pieces", "says"),
    [
        ([b"12.3"], "got 4 bytes without an end ('12.3') within 0.1 s"),
        ([b"12.3\n45.6\n"], "and more behind it"),
        ([b"12.3\n4"], "and more behind it"),
        ([b"12.3;4.5\n"], "not a number"),
        ([b"12,3\n"], "not a number"),
        ([b"\xff\xfe12.3\n"], "ÿþ12.3"),
        ([b"\x1b[2J\n"], "<1B>[2J"),
    ],
)
def test_rule_2_only_one_whole_answer_of_the_right_form_counts(
    bench: Bench, pieces: list[bytes], says: str
) -> None:
    answers(bench, *pieces)
    with pytest.raises(GarbledAnswer) as caught:
        bench.volts()
    assert says in str(caught.value)
    assert "bench-1: asked MEAS:VOLT?" in str(caught.value)
    assert bench.volts() == 6.002
    assert bench.asked == [b"MEAS:VOLT?", b"*IDN?", b"MEAS:VOLT?"]


def test_an_error_of_the_supply_is_told_as_its_own(bench: Bench) -> None:
    answers(bench, b'-113,"Undefined header"\n')
    with pytest.raises(SupplyRefused, match="reports error -113, 'Undefined header'"):
        bench.volts()
    assert bench.volts() == 6.002


def test_rule_3_a_late_answer_is_thrown_away(bench: Bench) -> None:
    bench.supply.fault, bench.supply.late_s = Fault.LATE, 1.7 * TIMEOUT_S
    with pytest.raises(NoAnswer, match=r"nothing came within 0\.1 s"):
        bench.volts()
    bench.supply.fault = Fault.NONE
    assert bench.volts() == 6.002
    assert bench.asked == [b"MEAS:VOLT?", b"*IDN?", b"MEAS:VOLT?"]
    assert bench.talk.tally.late == 1


def test_rule_3_the_tail_of_a_cut_answer_is_no_answer(bench: Bench) -> None:
    """`12` and, too late, `3.45`: neither is what the supply measured."""
    bench.supply.spoil = lambda answer: [Piece(0.0, b"12"), Piece(0.15, b"3.45\n")]  # type: ignore[method-assign]  # a fault of its own
    with pytest.raises(GarbledAnswer):
        bench.volts()
    bench.supply.spoil = FakeSupply.spoil.__get__(bench.supply)  # type: ignore[method-assign]  # healed
    assert bench.volts() == 6.002


def test_rule_3_another_answer_than_the_known_one_is_not_in_step(bench: Bench) -> None:
    with pytest.raises(NoAnswer):
        bench.talk.ask(UNKNOWN, str)
    bench.supply.identity = "ANOTHER,DC-12-10,B0002,1.0"
    with pytest.raises(NoAnswer, match=r"got 'ANOTHER.* instead of 'WORKSHOP"):
        bench.volts()
    with pytest.raises(NoAnswer):
        bench.volts()
    assert bench.supply.given == []


def test_rule_3_a_line_that_never_gets_quiet_is_told_with_its_bytes(bench: Bench) -> None:
    for number in range(60):
        bench.link.send(Piece(number * 0.01, b"\xaa"))
    with pytest.raises(GarbledAnswer, match=r"bytes keep coming .* aa aa aa\): check baud rate"):
        bench.volts()


def test_rule_4_a_sentinel_under_way_is_waited_for(bench: Bench) -> None:
    bench.supply.fault, bench.supply.late_s = Fault.LATE, 1.5 * TIMEOUT_S
    for _ in range(2):
        with pytest.raises(NoAnswer):
            bench.volts()
    bench.supply.fault = Fault.NONE
    assert bench.volts() == 6.002
    assert bench.asked == [b"MEAS:VOLT?", b"*IDN?", b"MEAS:VOLT?"]


def test_rule_4_a_sentinel_counts_as_lost_after_a_while(bench: Bench) -> None:
    bench.supply.fault = Fault.MUTE
    for _ in range(2):
        with pytest.raises(NoAnswer):
            bench.volts()
    bench.supply.fault = Fault.NONE
    bench.clock.wait(SETTLE_TIMEOUTS * TIMEOUT_S)
    with pytest.raises(SupplySilent):
        bench.volts()
    bench.link.close()
    bench.link.open(0)
    bench.talk.start_over()
    assert bench.volts() == 6.002


def test_rule_4_a_reopened_link_is_waited_for_until_all_has_come(bench: Bench) -> None:
    bench.supply.fault, bench.supply.late_s = Fault.LATE, 3.0 * TIMEOUT_S
    with pytest.raises(NoAnswer):
        bench.volts()
    bench.supply.fault = Fault.NONE
    bench.link.close()
    bench.link.open(0)
    began_ns = bench.clock.now_ns
    bench.talk.start_over()
    assert bench.clock.now_ns - began_ns > 0.9 * SETTLE_TIMEOUTS * TIMEOUT_S * 1e9
    assert bench.talk.ask_unproven(IDN) == IDENTITY


def test_rule_4_a_reopened_link_with_nothing_under_way_costs_nothing(bench: Bench) -> None:
    bench.volts()
    began_ns = bench.clock.now_ns
    bench.talk.start_over()
    assert bench.clock.now_ns == began_ns


def test_rule_5_three_silences_in_a_row_ask_for_a_new_link(bench: Bench) -> None:
    bench.supply.fault = Fault.MUTE
    for _ in range(SILENT_LIMIT - 1):
        with pytest.raises(NoAnswer):
            bench.volts()
    with pytest.raises(SupplySilent, match="3 times in a row: check that the supply is on"):
        bench.volts()


def test_rule_5_an_answer_between_begins_the_count_anew(bench: Bench) -> None:
    for _ in range(3 * SILENT_LIMIT):
        bench.supply.fault = Fault.MUTE
        with pytest.raises(NoAnswer):
            bench.volts()
        bench.supply.fault = Fault.NONE
        bench.volts()


def test_rule_6_our_own_question_coming_back_is_skipped(bench: Bench) -> None:
    answers(bench, b"MEAS:VOLT?\r\n", b"12.3\r\n")
    assert bench.volts() == 12.3
    assert bench.talk.tally.echoes == 1
    assert bench.at_rest()


def test_the_limit_of_a_poll_ends_everything(bench: Bench) -> None:
    bench.supply.fault = Fault.MUTE
    bench.talk.begin(0.03)
    began_ns = bench.clock.now_ns
    with pytest.raises(NoAnswer):
        bench.volts()
    assert bench.clock.now_ns - began_ns == 30_000_000


def test_answers_come_one_byte_at_a_time(bench: Bench) -> None:
    bench.link.cut = lambda data: [bytes([each]) for each in data]
    assert [bench.volts() for _ in range(3)] == [6.001, 6.002, 6.003]


def test_what_happened_is_counted(bench: Bench) -> None:
    bench.supply.delay_s = (0.05, 0.05)
    bench.volts()
    tally = bench.talk.tally
    assert (tally.asked, tally.answered, tally.garbled) == (2, 2, 0), "the sentinel, too"
    assert tally.slowest_s == pytest.approx(0.05)
