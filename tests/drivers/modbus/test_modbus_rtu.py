"""The numbered rules of a conversation on a serial line, each against a scripted unit."""

import struct
from collections.abc import Callable

import pytest

from drivers.errors import (
    AskAgain,
    GarbledAnswer,
    NoAnswer,
    QuestionRefused,
    Reopen,
    SupplyRefused,
    SupplySilent,
)
from drivers.modbus.modbus_rtu import RtuConversation
from drivers.modbus.register_question import RegisterQuestion
from drivers.promises import Fault
from tests.drivers.fake_registers import FakeRegisters, crc, framed
from tests.drivers.register_talk import HELD, IDENTITY, TIMEOUT_S, VALUES, Talk, rtu, talk
from tests.drivers.spoiling import Piece


def started(unit: FakeRegisters | None = None) -> tuple[Talk, RtuConversation]:
    on = talk(unit or FakeRegisters())
    conversation = rtu(on)
    assert conversation.learn(conversation.sentinel) == HELD
    conversation.must_hold(HELD)
    return on, conversation


class Answering(FakeRegisters):
    """Its next answers are made by the test from the true ones."""

    script: list[Callable[[bytes, bytes], list[Piece]]]
    asked: bytes = b""

    def answer(self, frame: bytes) -> list[Piece]:
        self.asked = frame
        return super().answer(frame)

    def spoil(self, answer: bytes) -> list[Piece]:
        if self.script:
            return self.script.pop(0)(self.asked, answer)
        return super().spoil(answer)


def answering(*script: Callable[[bytes, bytes], list[Piece]]) -> tuple[Talk, RtuConversation]:
    unit = Answering()
    unit.script = []
    on, conversation = started(unit)
    unit.script = list(script)
    return on, conversation


def test_an_answer_in_step_is_taken() -> None:
    _on, conversation = started()
    assert len(conversation.ask(VALUES)) == 7
    assert conversation.is_in_step
    assert conversation.tally.answered == 2


def test_what_waits_before_a_question_is_not_its_answer() -> None:
    on, conversation = started()
    stale = framed(1, bytes((3, 14)) + b"\x11" * 14)  # just the form of the next answer
    on.come(stale)
    assert conversation.ask(VALUES)[0] != 0x1111
    assert conversation.tally.late == 1
    assert conversation.tally.resyncs == 2


def test_a_late_answer_is_never_taken_for_the_next_one() -> None:
    on, conversation = answering(lambda _, answer: [Piece(1.5 * TIMEOUT_S, answer)])
    with pytest.raises(NoAnswer):
        conversation.ask(VALUES)
    first = len(on.unit.given)
    registers = conversation.ask(VALUES)
    assert len(on.unit.given) == 2 * first
    assert registers[:2] == struct.unpack(">HH", struct.pack(">f", on.unit.given[first].value))


@pytest.mark.parametrize("at", range(19))
def test_an_answer_cut_anywhere_is_no_answer(at: int) -> None:
    _, conversation = answering(lambda _, answer: [Piece(0.0, answer[:at])])
    with pytest.raises(AskAgain) as caught:
        conversation.ask(VALUES)
    assert isinstance(caught.value, NoAnswer if at == 0 else GarbledAnswer)
    assert len(conversation.ask(VALUES)) == 7


@pytest.mark.parametrize(
    "spoil",
    [
        lambda _, answer: [Piece(0.0, answer + b"\x55")],
        lambda _, answer: [Piece(0.0, b"\x55" + answer)],
        lambda _, answer: [Piece(0.0, answer + answer)],
        lambda _, answer: [Piece(0.0, answer[:-1] + bytes((answer[-1] ^ 1,)))],
        lambda _, answer: [Piece(0.0, answer[:5] + b"\x55" + answer[6:])],
        lambda _, answer: [Piece(0.0, framed(2, answer[1:-2]))],
        lambda _, answer: [Piece(0.0, framed(1, b"\x04" + answer[2:-2]))],
        lambda _, answer: [Piece(0.0, framed(1, b"\x03\x04\0\0\0\0"))],
        lambda _, answer: [Piece(0.0, framed(1, b"\x03\x0c" + answer[3:-4]))],
        lambda _, answer: [Piece(0.0, framed(1, b"\x03\x0c" + answer[3:-2]))],
    ],
    ids=[
        "a byte behind",
        "a byte before",
        "twice",
        "check sum",
        "a byte wrong",
        "another unit",
        "another function",
        "fewer registers",
        "one register short",
        "another byte count",
    ],
)
def test_only_the_whole_right_frame_is_an_answer(
    spoil: Callable[[bytes, bytes], list[Piece]],
) -> None:
    _, conversation = answering(spoil)
    with pytest.raises(AskAgain):
        conversation.ask(VALUES)
    assert len(conversation.ask(VALUES)) == 7
    assert conversation.tally.resyncs == 2


def test_after_silence_the_line_is_quiet_for_as_long_as_a_reply_took() -> None:
    on, conversation = answering(
        lambda _, answer: [Piece(0.08, answer)],  # the longest reply seen
        lambda _, answer: [Piece(0.0, b"\x55\x55")],
    )
    conversation.ask(VALUES)
    with pytest.raises(GarbledAnswer):
        conversation.ask(VALUES)
    on.come(b"\x55")
    began_ns = on.clock.now_ns
    asked = len(on.unit.received)
    conversation.ask(VALUES)
    assert on.elapsed_s(began_ns) >= 0.08
    # V1.1b3, 6.3: address 100, 2 registers: the identity is asked before the values.
    assert [frame[2:6].hex() for frame in on.unit.received[asked:]] == ["00640002", "00000007"]


def test_only_one_sentinel_is_ever_under_way() -> None:
    on, conversation = answering(*[lambda _, answer: []] * 8)
    for _ in range(3):
        with pytest.raises((NoAnswer, SupplySilent)):
            conversation.ask(VALUES)
    sentinels = [frame for frame in on.unit.received if frame[3] == 100]
    assert len(sentinels) == 2  # the one at the start, and one since


def test_an_exception_is_said_in_words_and_proves_no_step() -> None:
    on, conversation = started()
    on.unit.refuses = {(3, 0, 7): 2}
    with pytest.raises(SupplyRefused, match="illegal data address"):
        conversation.ask(VALUES)
    assert not conversation.is_in_step


def test_a_gateways_0b_counts_as_no_answer() -> None:
    on, conversation = started()
    on.unit.refuses = {(3, 0, 7): 0x0B}
    with pytest.raises(NoAnswer, match="RS-485"):
        conversation.ask(VALUES)


@pytest.mark.parametrize("code", [5, 6])
def test_a_busy_unit_is_let_alone_a_while(code: int) -> None:
    on, conversation = started()
    on.unit.refuses = {(3, 0, 7): code}
    with pytest.raises(SupplyRefused):
        conversation.ask(VALUES)
    on.unit.refuses = {}
    asked = len(on.unit.received)
    with pytest.raises(NoAnswer, match="asked again in"):
        conversation.ask(VALUES)
    assert len(on.unit.received) == asked
    on.clock.wait(1.1)
    assert len(conversation.ask(VALUES)) == 7


@pytest.mark.parametrize(
    "echo",
    [
        lambda asked, answer: [Piece(0.0, asked + answer)],
        lambda asked, answer: [Piece(0.0, asked), Piece(0.05, answer)],
        lambda asked, answer: [Piece(0.0, asked[:-1] + answer)],
        lambda asked, answer: [Piece(0.0, asked[:3]), Piece(0.02, answer)],
        lambda asked, answer: [Piece(0.0, asked + asked + answer)],
        lambda asked, answer: [Piece(0.05, asked + answer)],
    ],
    ids=["full", "ahead", "minus-last", "three bytes", "doubled", "delayed"],
)
def test_an_echo_is_dropped_and_told_of_once(
    echo: Callable[[bytes, bytes], list[Piece]],
) -> None:
    on, conversation = answering(echo, echo, echo)
    for _ in range(3):
        before = len(on.unit.given)
        assert len(conversation.ask(VALUES)) == 7
        assert len(on.unit.given) == before + 3
    assert len(conversation.notices) == 1
    assert "echo" in conversation.notices[0]
    assert conversation.tally.resyncs == 1


def test_an_echo_alone_is_no_answer() -> None:
    _, conversation = answering(lambda asked, answer: [Piece(0.0, asked)])
    with pytest.raises(NoAnswer):
        conversation.ask(VALUES)


def test_frames_of_other_units_are_dropped_and_the_reply_waited_for() -> None:
    # V1.02, 2.4.1: a reply from an unexpected unit: keep waiting.
    _on, conversation = answering(
        lambda _, answer: [Piece(0.0, framed(9, b"\x03\x02\x12\x34")), Piece(0.01, answer)]
    )
    assert len(conversation.ask(VALUES)) == 7
    assert conversation.tally.late == 1


def test_three_silences_in_a_row_ask_for_a_new_opening() -> None:
    on, conversation = started()
    on.unit.fault = Fault.MUTE
    failures = []
    for _ in range(3):
        with pytest.raises((NoAnswer, SupplySilent)) as caught:
            conversation.ask(VALUES)
        failures.append(type(caught.value))
    assert failures == [NoAnswer, NoAnswer, SupplySilent]


def test_silence_and_noise_are_told_apart_in_words() -> None:
    on, conversation = started()
    on.unit.fault = Fault.MUTE
    with pytest.raises(NoAnswer, match="nothing came") as silence:
        conversation.ask(VALUES)
    assert "cable" in str(silence.value)
    on.unit.fault = Fault.NOISE
    for _ in range(12):
        with pytest.raises((AskAgain, Reopen)) as noise:
            conversation.ask(VALUES)
    assert "bytes arrive, but no frames" in str(noise.value)
    assert "A and B" in str(noise.value)


def test_another_instrument_behind_the_sentinel_is_no_way_back() -> None:
    on, conversation = started()
    on.come(b"\x55")
    on.unit.serial = 0x00020009
    with pytest.raises(Reopen, match="something else than before"):
        conversation.ask(VALUES)


def test_nothing_but_the_list_leaves() -> None:
    on, conversation = started()
    # V1.1b3, 6.6 and 6.12; and the broadcast of V1.02, 2.1.
    for pdu in ("06 00 01 00 03", "10 00 01 00 02 04 00 0A 01 02", "05 00 AC FF 00"):
        for unit in (1, 0):
            with pytest.raises(QuestionRefused):
                conversation.link.write(framed(unit, bytes.fromhex(pdu)), on.clock.now_ns)
    body = b"\0\x03\0\0\0\x01"
    with pytest.raises(QuestionRefused):
        conversation.link.write(body + crc(body), on.clock.now_ns)


def test_the_gap_is_kept_before_each_frame() -> None:
    on = talk(FakeRegisters(), gap_s=0.05)
    conversation = rtu(on)
    conversation.learn(conversation.sentinel)
    began_ns = on.clock.now_ns
    for _ in range(4):
        conversation.ask(VALUES)
    assert on.elapsed_s(began_ns) >= 4 * 0.05


def test_a_question_of_one_register_and_of_all_fit_the_standard() -> None:
    most = RegisterQuestion(1, 3, 200, 125)
    on = talk(FakeRegisters())
    conversation = rtu(on, (IDENTITY, most))
    conversation.learn(conversation.sentinel)
    assert len(conversation.ask(most)) == 125


# A line driver that is switched on or off holds the line low for some bits; what a receiver makes
# of that is FF moved left by as many (the lowest bit comes first). Common practice, no source.
@pytest.mark.parametrize("before", [b"", b"\0", b"\xff", b"\xfe\0", b"\0" * 8])
@pytest.mark.parametrize("behind", [b"", b"\0", b"\xff\xff", b"\xf0"])
def test_noise_of_a_line_driver_around_a_frame_is_dropped(before: bytes, behind: bytes) -> None:
    on, conversation = answering(
        lambda _, answer: [Piece(0.0, before + answer), Piece(0.001, behind)]
    )
    assert len(conversation.ask(VALUES)) == 7
    on.clock.wait(0.05)
    assert len(conversation.ask(VALUES)) == 7
    assert conversation.tally.resyncs == 1


def test_a_line_that_only_makes_noise_gives_no_answer() -> None:
    _, conversation = answering(lambda _, answer: [Piece(0.0, b"\0" * 9 + answer)])
    with pytest.raises(GarbledAnswer):
        conversation.ask(VALUES)


VOLTS, AMPS = RegisterQuestion(1, 3, 0, 1), RegisterQuestion(1, 3, 2, 1)
TWO, OTHER = RegisterQuestion(1, 3, 0, 2), RegisterQuestion(1, 4, 0, 1)


class OneRegister(Answering):
    """Gives one register a request, and knows no function 4; register n holds 100 + n."""

    def reply(self, function: int, address: int, count: int) -> bytes:
        if function == 4:
            return bytes((0x84, 1))
        if count > 1:
            return bytes((0x83, 3))
        return bytes((3, 2)) + (100 + address).to_bytes(2, "big")


@pytest.mark.parametrize("sentinel", [TWO, OTHER])
def test_a_refusal_proves_the_step_where_all_replies_are_equally_long(
    sentinel: RegisterQuestion,
) -> None:
    unit = OneRegister()
    unit.script = []
    on = talk(unit)
    conversation = rtu(on, [sentinel, VOLTS, AMPS])
    assert conversation.learn(sentinel, may_refuse=True, proves_each=True) == ()
    assert [conversation.ask(each) for each in (VOLTS, AMPS)] == [(100,), (102,)]
    unit.script = [
        lambda _, answer: [Piece(0.0, answer)],
        lambda _, answer: [Piece(0.0, answer), Piece(0.003, answer)],  # twice, the second late
    ]
    assert conversation.ask(VOLTS) == (100,)
    assert conversation.ask(AMPS) == (102,)
    unit.script = [
        lambda _, answer: [Piece(0.0, answer)],
        lambda _, answer: [Piece(1.5 * TIMEOUT_S, answer)],
    ]
    with pytest.raises(NoAnswer):
        conversation.ask(VOLTS)
    assert conversation.ask(AMPS) == (102,)


def test_another_refusal_of_the_sentinel_proves_nothing() -> None:
    unit = OneRegister()
    unit.script = []
    conversation = rtu(talk(unit), [TWO, VOLTS])
    conversation.learn(TWO, may_refuse=True)
    unit.script = [lambda _, __: [Piece(0.0, framed(1, b"\x83\x02"))]]
    conversation.start_over()
    with pytest.raises(SupplyRefused):
        conversation.ask(VOLTS)
    assert conversation.ask(VOLTS) == (100,)


def others(on: Talk, at_s: float) -> None:
    """Another master asks unit 9 for registers, or writes one, and is answered."""
    for question, answer in (
        (bytes((3, 0, 100, 0, 2)), bytes((3, 4)) + b"\1\2\3\4"),
        (bytes((6, 0, 7, 0, 5)), bytes((6, 0, 7, 0, 5))),
    ):
        on.come(framed(9, question), at_s)
        on.come(framed(9, answer), at_s + 0.004)


@pytest.mark.parametrize("reopens", [False, True])
def test_rule_4_a_lost_sentinel_is_asked_again_though_others_talk_all_the_time(
    reopens: bool,
) -> None:
    on, conversation = started()
    on.unit.fault = Fault.MUTE
    for _ in range(2):  # the question is lost, then the sentinel
        with pytest.raises((AskAgain, Reopen)):
            conversation.ask(VALUES)
    on.unit.fault = Fault.NONE
    for _ in range(60):
        others(on, 0.01)
        if reopens:
            conversation.start_over()
        try:
            registers = conversation.ask(VALUES)
        except (AskAgain, Reopen):
            on.clock.wait(0.02)
            continue
        break
    assert len(registers) == 7
    assert conversation.is_in_step


def test_rule_7_others_beside_a_reply_spoil_nothing() -> None:
    on, conversation = started()
    for _ in range(5):
        others(on, 0.0)
        assert len(conversation.ask(VALUES)) == 7


def test_rule_10_a_copy_that_comes_just_after_a_question_is_not_its_answer() -> None:
    """A repeater or a gateway that tries again sends a reply twice, the second one late."""
    copies: list[bytes] = []

    def twice(_: bytes, answer: bytes) -> list[Piece]:
        copies.append(answer)
        return [Piece(0.0, answer), Piece(0.5 * TIMEOUT_S, answer)]

    def overtaken(_: bytes, answer: bytes) -> list[Piece]:
        return [Piece(0.0, copies[0]), Piece(0.001, answer)]

    on, conversation = answering(twice)
    first = conversation.ask(VALUES)
    on.clock.pass_s(TIMEOUT_S)
    conversation.ask(VALUES)  # the copy waits before it: from now on each reply is proven
    unit = on.unit
    assert isinstance(unit, Answering)
    unit.script = [overtaken]
    with pytest.raises(GarbledAnswer, match="came twice"):
        conversation.ask(VALUES)
    asked = len(unit.received)
    assert conversation.ask(VALUES) != first
    assert len(unit.received) == asked + 2, "the question, and the sentinel behind it"
    unit.delay_s = (0.01, 0.01)
    conversation.ask(VALUES)
    assert conversation.span_ns[1] < on.clock.now_ns, "its time is the question's, not the proof's"


def test_rule_10_a_proof_that_came_between_two_polls_is_heard() -> None:
    on, conversation = answering(lambda _, answer: [Piece(0.0, answer), Piece(0.05, answer)])
    conversation.ask(VALUES)
    on.clock.pass_s(TIMEOUT_S)
    conversation.ask(VALUES)  # the copy waits before it: from now on each reply is proven
    unit = on.unit
    assert isinstance(unit, Answering)
    unit.script = [
        lambda _, answer: [Piece(0.0, answer)],
        lambda _, answer: [Piece(1.1 * TIMEOUT_S, answer)],
    ]
    with pytest.raises(NoAnswer):
        conversation.ask(VALUES)
    on.clock.pass_s(0.5 * TIMEOUT_S)
    assert len(conversation.ask(VALUES)) == 7
