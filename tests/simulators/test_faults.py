"""The fault track and the paced wire: each fault does what it says, at its time, from its seed."""

import json
import re
from pathlib import Path

import pytest

from simulators.exchange import Exchange
from simulators.fault import KINDS, Fault
from simulators.fault_track import Outage
from simulators.faults import MIXED, Faults, FaultsFile, even_mix, load_faults
from simulators.form import FormError, fill_in, parse_form
from simulators.installation import Installation
from simulators.line_rate import LineRate
from simulators.modbus_frame import rtu_frame, tcp_frame
from simulators.outbox import Outbox
from simulators.scene import load_scene
from simulators.wire import Wire

ASKED = b"*IDN?\n"
WHOLE = b"BATHVIGIL SIM,DC-12-10,SIM0001,1.0\n"
VERSION, VERSION_ANSWER = b"SYST:VERS?\n", b"1999.0\n"


class Hand:
    """A wire with a hand at its other side, and the machine's time in the hand."""

    def __init__(
        self,
        *faults: Fault,
        seed: int = 1,
        link: str = "scpi-tcp",
        rate: LineRate | None = None,
        deaf_s: float = 0.0,
        speech: str = "asks-apart",
    ) -> None:
        self.faults = Faults(faults, seed)
        installation = Installation(link=link, is_tagged=True, speech=speech)
        rigs = installation.rigs(load_scene("quiet-strip"))
        self.wire = Wire(installation.make_end(rigs)(), self.faults, rate, deaf_s)
        self.done: list[Exchange] = []

    def ask(self, data: bytes, now_s: float = 0.0) -> bytes:
        """Send bytes; what comes at once."""
        self.done += self.wire.feed(data, now_s, now_s)
        return self.wire.take(now_s)

    def wait(self, now_s: float) -> bytes:
        """What has come until then."""
        self.done += self.wire.tick(now_s, now_s)
        return self.wire.take(now_s)


# What each kind does


def test_without_faults_the_answer_comes_at_once_and_is_on_record_as_sent() -> None:
    hand = Hand()
    assert hand.ask(ASKED) == WHOLE
    (exchange,) = hand.done
    assert (exchange.asked, exchange.sent, exchange.fault) == (ASKED, WHOLE, None)


def test_late_comes_when_it_says_and_answers_stay_in_order() -> None:
    hand = Hand(Fault("late", seconds=0.5))
    assert hand.ask(ASKED, 1.0) == b""
    assert hand.wire.wake_s(1.0) == 1.5
    assert hand.ask(VERSION, 1.2) == b""
    assert hand.wait(1.499) == b""
    assert hand.wait(1.5) == WHOLE + VERSION_ANSWER


def test_late_is_drawn_around_its_time() -> None:
    comes_s: list[float | None] = []
    for _ in range(200):
        hand = Hand(Fault("late", seconds=0.3, spread_s=0.2), seed=len(comes_s))
        hand.ask(ASKED)
        comes_s.append(hand.wire.wake_s(0.0))
    times_s = [time_s for time_s in comes_s if time_s is not None]
    assert len(times_s) == 200
    assert 0.1 <= min(times_s) < 0.15
    assert 0.45 < max(times_s) <= 0.5


def test_early_comes_again_before_the_next_question() -> None:
    hand = Hand(Fault("early", seconds=0.1))
    assert hand.ask(ASKED) == WHOLE
    assert hand.wait(0.1) == WHOLE


@pytest.mark.parametrize("count", range(len(WHOLE)))
def test_partial_is_cut_at_every_byte(count: int) -> None:
    hand = Hand(Fault("partial", count=count, rest_s=0.5))
    assert hand.ask(ASKED) == WHOLE[:count]
    assert hand.wait(0.5) == WHOLE[count:]
    hand = Hand(Fault("partial", count=count))
    assert hand.ask(ASKED) == WHOLE[:count]
    assert hand.wait(9.0) == b""


def test_partial_never_is_the_whole() -> None:
    for seed in range(100):
        assert len(Hand(Fault("partial"), seed=seed).ask(ASKED)) < len(WHOLE)


def test_merged_comes_with_the_next_one() -> None:
    hand = Hand(Fault("merged"))
    assert hand.ask(ASKED) == b""
    assert hand.ask(VERSION, 5.0) == WHOLE + VERSION_ANSWER
    assert [exchange.sent for exchange in hand.done] == [b"", WHOLE + VERSION_ANSWER]


@pytest.mark.parametrize(
    ("where", "sent"),
    [("before", b"\xff\x00" + WHOLE), ("after", WHOLE + b"\xff\x00"), ("instead", b"\xff\x00")],
)
def test_noise_comes_before_after_or_instead(where: str, sent: bytes) -> None:
    fault = fill_in(Fault, {"kind": "noise", "at_poll": 1, "where": where, "hex": "FF 00"}, "")
    assert Hand(fault).ask(ASKED) == sent


def test_noise_that_is_drawn_has_nothing_printable_in_it() -> None:
    for seed in range(50):
        noise = Hand(Fault("noise", where="instead"), seed=seed).ask(ASKED)
        assert 1 <= len(noise) <= 12
        assert not re.search(rb"[\t-~]", noise)


def test_garbled_changes_one_byte() -> None:
    sent = Hand(Fault("garbled", count=3)).ask(ASKED)
    assert [a != b for a, b in zip(sent, WHOLE, strict=True)] == [
        at == 3 for at in range(len(WHOLE))
    ]


@pytest.mark.parametrize(
    ("how", "echo"),
    [("full", ASKED), ("minus-last", ASKED[:-1]), ("doubled", ASKED * 2), ("delayed", b"")],
)
def test_echo_brings_the_question_back(how: str, echo: bytes) -> None:
    hand = Hand(fill_in(Fault, {"kind": "echo", "at_poll": 1, "how": how}, ""))
    if how == "delayed":
        assert hand.ask(ASKED) == b""
        assert hand.wait(0.05) == ASKED + WHOLE
    else:
        assert hand.ask(ASKED) == echo + WHOLE


@pytest.mark.parametrize("code", [1, 2, 3, 4, 5, 6, 0x0A, 0x0B])
def test_exception_is_the_protocols_own_refusal(code: int) -> None:
    # Modbus Application Protocol V1.1b3, 7: function with its highest bit set, then the code.
    read = bytes.fromhex("03 00 00 00 02")
    hand = Hand(Fault("exception", code=code), link="modbus-rtu")
    assert hand.ask(rtu_frame(1, read)) == rtu_frame(1, bytes((0x83, code)))
    hand = Hand(Fault("exception", code=code), link="modbus-tcp")
    assert hand.ask(tcp_frame(77, 1, read)) == tcp_frame(77, 1, bytes((0x83, code)))
    hand = Hand(Fault("exception", code=code), link="modbus-rtu")
    assert hand.ask(rtu_frame(0, read)) == b""  # a broadcast stays unanswered


def test_exception_in_text_protocols() -> None:
    assert Hand(Fault("exception", code=-222)).ask(ASKED) == b'-222,"Data out of range"\n'
    assert Hand(Fault("exception", code=5)).ask(ASKED) == b'-200,"Execution error"\n'
    assert Hand(Fault("exception", code=5), link="lines-tcp").ask(b"V?\r") == b"ERR 5\r"


def test_mute_says_nothing() -> None:
    hand = Hand(Fault("mute"))
    assert hand.ask(ASKED) + hand.wait(99.0) == b""
    assert hand.done[0].answer == WHOLE.decode().strip()


def test_drip_comes_a_byte_at_a_time() -> None:
    hand = Hand(Fault("drip", seconds=0.5))
    assert hand.ask(ASKED) == b""
    assert hand.wait(0.5) == WHOLE[:1]
    assert hand.wait(1.9) == WHOLE[1:3]
    assert hand.wire.wake_s(1.9) == 2.0
    assert hand.wait(0.5 * len(WHOLE)) == WHOLE[3:]


def test_identity_is_anothers_for_so_many_questions() -> None:
    hand = Hand(Fault("identity", at_poll=2, serial=7, polls=2))
    numbers = [re.findall(rb"SIM(\d+)", hand.ask(ASKED))[0] for _ in range(4)]
    assert numbers == [b"0001", b"0007", b"0007", b"0001"]
    assert [exchange.fault for exchange in hand.done] == [None, "identity", "identity", None]


def test_reboot_and_unplug_are_the_transports_business() -> None:
    hand = Hand(Fault("reboot", seconds=3.0), Fault("unplug", how="reset", seconds=1.0))
    hand.ask(b"BOGUS?\nVOLT 5\n")
    assert hand.wire.outages() == [Outage(True, "refuse", 3.0), Outage(False, "reset", 1.0)]
    assert hand.wire.outages() == []


def test_after_a_reboot_all_is_as_after_switching_on() -> None:
    hand = Hand()
    hand.ask(b"VOLT 5;*CLS;BOGUS?\n")
    hand.faults.add(Fault("reboot"))
    hand.ask(ASKED)
    # IEEE 488.2-1992, 11.5.1 (from memory): bit 7 of the event status says power on.
    assert hand.ask(b"VOLT?;OUTP?;*ESR?;:SYST:ERR?\n") == b'0.000;0;128;0,"No error"\n'


# When they come


def test_faults_come_at_their_poll_and_at_their_time() -> None:
    hand = Hand(Fault("mute", at_poll=2), Fault("mute", at_s=10.0))
    answered = [bool(hand.ask(ASKED, t_s)) for t_s in (0.0, 1.0, 2.0, 11.0, 12.0)]
    assert answered == [True, False, True, False, True]


def test_a_rate_is_kept_and_the_seed_decides() -> None:
    def drawn(seed: int) -> list[str | None]:
        faults = Faults(even_mix(0.2), seed)
        return [
            fault.kind if fault is not None else None
            for fault, _ in (faults.take(0.0) for _ in range(5000))
        ]

    kinds = drawn(1)
    assert kinds == drawn(1) != drawn(2)
    struck = [kind for kind in kinds if kind is not None]
    # Binomial: 1000 expected, standard deviation 28; and 111 each, standard deviation 10.
    assert 900 < len(struck) < 1100
    for kind in MIXED:
        assert 70 < struck.count(kind) < 155


def test_what_is_drawn_is_the_same_again_from_the_same_seed() -> None:
    def talk(seed: int) -> list[str]:
        hand = Hand(*even_mix(0.7), seed=seed)
        for poll in range(100):
            hand.ask(ASKED, float(poll))
        return [exchange.as_json() for exchange in hand.done]

    assert talk(3) == talk(3)
    assert talk(3) != talk(4)
    assert {json.loads(line)["fault"] for line in talk(3)} == {None, *MIXED}


def test_a_faults_file(tmp_path: Path) -> None:
    path = tmp_path / "bad-day.toml"
    path.write_text(
        'seed = 4\n[[fault]]\nkind = "late"\nrate = 0.5\nseconds = 0.2\n'
        '[[fault]]\nkind = "mute"\nat_poll = 2\n',
        encoding="utf-8",
    )
    faults = load_faults(path)
    kinds = [fault and fault.kind for fault, _ in (faults.take(0.0) for _ in range(100))]
    assert kinds[1] == "mute"
    assert 30 < kinds.count("late") < 70


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            '[[fault]]\nkind = "lat"\nat_poll = 1\n',
            "kind: 'lat' is not possible; did you mean late",
        ),
        ('[[fault]]\nkind = "late"\n', "number 1: needs exactly one of at_poll, at_s, rate"),
        (
            '[[fault]]\nkind = "mute"\nat_s = 1.0\ncode = 2\n',
            "mute takes no code; it takes nothing",
        ),
        ('[[fault]]\nkind = "echo"\nat_s = 1.0\nhow = "reset"\n', "echo knows full, minus-last"),
        ('[[fault]]\nkind = "noise"\nat_s = 1.0\nhex = "0G"\n', "hex: write bytes like 'FF 00 1B'"),
        ('[[fault]]\nkind = "mute"\nrate = 0.6\n' * 2, "rates of all faults together are over 1"),
        ("seed = 1.5\n", "seed: 1.5 should be a whole number"),
        ("fault = 1\n", "write each one as [[fault]]"),
        ("sede = 1\n", "there is no 'sede'; did you mean seed?"),
        ("seed = \n", "not TOML"),
    ],
)
def test_a_wrong_faults_file_is_named_with_its_cure(text: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FormError) as caught:
        load_faults(path)
    assert said in str(caught.value)
    with pytest.raises(FormError, match="cannot read the faults file"):
        load_faults(tmp_path / "none.toml")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_written_with_nothing_but_its_time(kind: str) -> None:
    hand = Hand(fill_in(Fault, {"kind": kind, "at_poll": 1}, ""))
    hand.ask(ASKED)
    assert hand.done[0].fault == kind
    with pytest.raises(FormError):
        parse_form(FaultsFile, "faults file", f'[[fault]]\nkind = "{kind}"\n', "mine")


# The paced wire


RTU = bytes.fromhex("01 03 00 00 00 02")
QUESTION = rtu_frame(1, RTU[1:])
# Modbus over Serial Line V1.02, 2.5.1.1: 11 bits a character, 3.5 characters of silence.
CHARACTER_S = 11 / 9600
GAP_S = 3.5 * CHARACTER_S


@pytest.mark.parametrize(
    ("baud", "gap_ms"), [(9600, 4.0104), (19200, 2.0052), (38400, 1.75), (115200, 1.75)]
)
def test_the_silence_between_frames_is_the_standards(baud: int, gap_ms: float) -> None:
    assert LineRate(baud, 11, True).gap_s * 1e3 == pytest.approx(gap_ms, abs=1e-4)


def paced() -> Hand:
    return Hand(link="modbus-rtu", rate=LineRate(9600, 11, True))


def test_rule_1_frames_take_their_time_on_the_line() -> None:
    hand = paced()
    assert hand.ask(QUESTION, 1.0) == b""
    begins_s = 1.0 + 8 * CHARACTER_S + GAP_S
    assert hand.wait(begins_s + 0.9 * CHARACTER_S) == b""
    assert len(hand.wait(begins_s + 4.01 * CHARACTER_S)) == 4
    assert hand.wire.wake_s(begins_s + 8.5 * CHARACTER_S) == pytest.approx(
        begins_s + 9 * CHARACTER_S
    )
    assert len(hand.wait(begins_s + 9.001 * CHARACTER_S)) == 5


def test_rule_2_a_question_too_soon_is_not_heard() -> None:
    hand = paced()
    hand.ask(QUESTION, 1.0)
    ends_s = 1.0 + (8 + 9) * CHARACTER_S + GAP_S
    assert len(hand.wait(ends_s + 1e-6)) == 9
    hand.ask(QUESTION, ends_s + 0.9 * GAP_S)
    assert [exchange.fault for exchange in hand.done] == [None, "no-gap"]
    free_s = ends_s + 0.9 * GAP_S + 8 * CHARACTER_S + GAP_S
    hand.ask(QUESTION, free_s + 1e-6)
    assert [exchange.fault for exchange in hand.done] == [None, "no-gap", None]
    assert len(hand.wait(free_s + 1.0)) == 9


def test_rule_2_a_slow_supply_is_deaf_for_a_while_after_its_answer() -> None:
    hand = Hand(link="modbus-rtu", deaf_s=0.05)
    assert len(hand.ask(QUESTION, 1.0)) == 9
    assert hand.ask(QUESTION, 1.04) == b""
    assert len(hand.ask(QUESTION, 1.1)) == 9


def test_rule_3_a_silence_ends_what_is_no_frame() -> None:
    hand = Hand(link="modbus-rtu")
    assert hand.ask(b"\xff" + QUESTION, 1.0) == b""
    wake_s = hand.wire.wake_s(1.0)
    assert wake_s is not None
    assert hand.wait(wake_s) == b""
    assert hand.wire.wake_s(wake_s) is None
    assert len(hand.ask(QUESTION, 2.0)) == 9


def test_text_on_a_paced_line_needs_no_silence() -> None:
    hand = Hand(rate=LineRate(115200))
    hand.ask(VERSION, 1.0)
    assert hand.wait(1.0 + 17.01 * 10 / 115200) == VERSION_ANSWER[:-1]
    assert hand.wait(1.0 + 18.01 * 10 / 115200) == b"\n"
    hand.ask(VERSION, 1.0 + 18.02 * 10 / 115200)
    assert hand.wait(2.0) == VERSION_ANSWER


def test_a_talker_talks_once_a_second_and_skips_what_it_missed() -> None:
    hand = Hand(link="lines-tcp", speech="talker")
    assert hand.wait(10.0) == b""
    assert hand.wait(10.99) == b""
    assert len(hand.wait(11.0).splitlines()) == 1
    assert len(hand.wait(15.5).splitlines()) == 1
    assert hand.wire.wake_s(15.5) == 16.0


def test_an_outbox_never_lets_bytes_overtake() -> None:
    outbox = Outbox()
    outbox.put(b"slow", 10.0, 1.0)
    outbox.put(b"fast", 10.0)
    assert outbox.take(13.0) == b"slo"
    assert outbox.take(14.0) == b"wfast"
    outbox.put(b"ab", 20.0, 1.0)
    outbox.put(b"cd", 20.0, 1.0)
    assert outbox.take(23.0) == b"abc"
    assert outbox.ends_s == 24.0
    outbox.put(b"gone", 99.0)
    outbox.clear()
    assert outbox.wake_s(0.0) is None
