"""The rules of `exchanges.py`, and rules 4, 7 and 10 of `conversation.py` that they rest on."""

from collections.abc import Callable
from contextlib import suppress
from typing import ClassVar

import pytest

from drivers.errors import AskAgain, GarbledAnswer, NotUnderstood, Reopen
from drivers.lines.line_question import LineQuestion
from drivers.link.asking_link import AskingLink
from drivers.promises import Fault, Given
from drivers.text.conversation import LOST_TIMEOUTS, Conversation
from drivers.text.exchanges import Exchanges
from drivers.text.text_question import wires
from tests.clock import HandClock
from tests.drivers.fake_link import FakeLink
from tests.drivers.spoiling import Piece

VOLTS, AMPS, WHO = (LineQuestion(text) for text in ("V?", "I?", "ID?"))
TIMEOUT_S = 0.1


class Asked:
    """What a link wants of a supply, beside its answers."""

    fault = Fault.NONE
    given: ClassVar[list[Given]] = []
    received: ClassVar[list[bytes]] = []

    def is_question(self, message: bytes) -> bool:
        return True


class Supply(Asked):
    """Answers each question after `takes_s` with the next of its own row; "" for silence."""

    def __init__(self, **rows: list[str]) -> None:
        self.rows = {"ID?": ["A17"] * 50, **{f"{key}?": row for key, row in rows.items()}}
        self.questions: list[str] = []
        self.takes_s, self.gap_s = 0.01, 0.0

    def receive(self, data: bytes) -> list[Piece]:
        text = data.decode().strip()
        self.questions.append(text)
        lines = self.rows[text].pop(0) if self.rows[text] else ""
        said = [f"{line}\n".encode() for line in lines.split("|") if line]
        return [Piece(self.takes_s + n * self.gap_s, line) for n, line in enumerate(said)]


class Bench:
    """A supply, a conversation in step with it, and its exchanges."""

    def __init__(self, supply: Supply, has_sentinel: bool = True) -> None:
        self.clock, self.supply = HandClock(), supply
        self.link = FakeLink(supply, self.clock)
        self.link.open(0)
        asking = AskingLink(self.link, wires([VOLTS, AMPS, WHO]))
        self.talk = Conversation(
            asking, self.clock, TIMEOUT_S, 0.02, "bench-1", None, has_sentinel, probe=VOLTS
        )
        self.talk.begin(1000.0)
        if has_sentinel:
            self.talk.set_sentinel(WHO, self.talk.ask_unproven(WHO))
        self.exchanges = Exchanges(self.talk)
        supply.questions.clear()

    def poll(self) -> tuple[float, float]:
        self.exchanges.begin()
        volts, _ = self.exchanges.ask(VOLTS, number)
        amps, _ = self.exchanges.ask(AMPS, number)
        self.exchanges.prove()
        return volts, amps


def number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise NotUnderstood("not a number") from None


def with_letter(letter: str) -> Callable[[str], float]:
    def understand(text: str) -> float:
        if not text.startswith(letter):
            raise NotUnderstood("another letter")
        return float(text[1:])

    return understand


def test_rule_1_an_answer_that_comes_again_is_not_that_to_the_next_question() -> None:
    # The volts come twice, the amps are lost: what comes for the amps is the volts again.
    bench = Bench(Supply(V=["5.02"], I=["", "3.01"]))
    bench.exchanges.begin()
    assert bench.exchanges.ask(VOLTS, number)[0] == 5.02
    bench.supply.rows["I?"][0] = "5.02"
    assert bench.exchanges.ask(AMPS, number)[0] == 3.01


def test_rule_1_two_answers_that_are_alike_by_chance_cost_one_question_more() -> None:
    bench = Bench(Supply(V=["5.00"], I=["5.00", "5.00"]))
    assert bench.poll() == (5.0, 5.0)
    assert bench.supply.questions == ["V?", "I?", "I?", "ID?"]


def test_rule_2_answers_of_one_form_are_proven_by_the_sentinel() -> None:
    bench = Bench(Supply(V=["5.02", "5.04"], I=["3.01", "3.03"]))
    assert bench.poll() == (5.02, 3.01)
    assert bench.supply.questions == ["V?", "I?", "ID?"]


def test_rule_4_a_line_too_many_between_two_answers_spoils_both() -> None:
    bench = Bench(Supply(V=["4.90|5.02"], I=["3.01"]))
    with pytest.raises(AskAgain):
        bench.poll()


def test_rule_2_an_answer_behind_its_question_is_never_used() -> None:
    # An older answer comes for the volts, the volts come for the amps, the amps behind them.
    bench = Bench(Supply(V=["4.90"], I=["5.02|3.01"]))
    with pytest.raises(AskAgain):
        bench.poll()
    bench = Bench(Supply(V=["4.90"], I=["5.02"], ID=["A17", "3.01|A17"]))
    with pytest.raises(GarbledAnswer, match=r"'3\.01' came behind the answers"):
        bench.poll()
    bench.supply.rows |= {"V?": ["5.06"], "I?": ["3.07"], "ID?": ["A17"] * 5}
    assert bench.poll() == (5.06, 3.07)


def test_rule_2_without_a_sentinel_the_line_must_stay_quiet() -> None:
    bench = Bench(Supply(V=["5.02", "4.90"], I=["3.01", "5.04"]), has_sentinel=False)
    bench.talk.settle()
    assert bench.poll() == (5.02, 3.01)
    bench.supply.takes_s = 0.004
    bench.exchanges.begin()
    bench.exchanges.ask(VOLTS, number)
    bench.exchanges.ask(AMPS, number)
    bench.link.send(Piece(0.006, b"3.01\n"))  # the true answer, when answers take so long
    with pytest.raises(GarbledAnswer, match="came behind the answers"):
        bench.exchanges.prove()


def test_rule_3_answers_that_say_what_they_are_need_no_proof() -> None:
    bench = Bench(Supply(V=["V5.02"], I=["A3.01"]))
    bench.exchanges.ask(VOLTS, with_letter("V"))
    bench.exchanges.ask(AMPS, with_letter("A"))
    bench.exchanges.prove()
    assert bench.supply.questions == ["V?", "I?"]


class Stalled(Asked):
    """Hears all questions, but answers none before `until_ns`; then all, in order, one by one."""

    def __init__(self, clock: HandClock) -> None:
        self.clock = clock
        self.until_ns = self.free_ns = 0
        self.wakes_s = 0.004
        self.volts, self.amps = 5.00, 3.01
        self.values: list[tuple[str, float]] = []

    def receive(self, data: bytes) -> list[Piece]:
        text = data.decode().strip()
        busy_ns = max(self.until_ns, self.free_ns)
        takes_s = self.wakes_s if busy_ns > self.clock.now_ns else 0.004
        self.free_ns = max(busy_ns, self.clock.now_ns) + int(takes_s * 1e9)
        after_s = (self.free_ns - self.clock.now_ns) / 1e9
        if text == "V?":
            self.volts = round(self.volts + 0.02, 2)
            self.values.append((text, self.volts))
            return [Piece(after_s, f"{self.volts:.2f}\n".encode())]
        self.amps = round(self.amps + 0.02, 2)
        self.values.append((text, self.amps))
        return [Piece(after_s, f"{self.amps:.2f}\n".encode())]


@pytest.mark.parametrize("stall_timeouts", [4.2, 5.1, 6.3, 8.7, 9.9, 13.5, 20.2])
@pytest.mark.parametrize("pause_s", [0.0, 0.07, 0.3])
@pytest.mark.parametrize("wakes_s", [0.004, 0.06])
def test_rule_7_after_a_long_stall_no_volts_are_taken_for_amps(
    stall_timeouts: float, pause_s: float, wakes_s: float
) -> None:
    clock = HandClock()
    supply = Stalled(clock)
    supply.wakes_s = wakes_s
    link = FakeLink(supply, clock)
    link.open(0)
    talk = Conversation(
        AskingLink(link, wires([VOLTS, AMPS])),
        clock,
        TIMEOUT_S,
        0.02,
        "b",
        None,
        False,
        probe=VOLTS,
    )
    exchanges = Exchanges(talk)
    good = 0
    for number_of_poll in range(60):
        if number_of_poll == 5:
            supply.until_ns = clock.now_ns + int(stall_timeouts * TIMEOUT_S * 1e9)
        talk.begin(8 * TIMEOUT_S)
        exchanges.begin()
        before = len(supply.values)
        try:
            volts, _ = exchanges.ask(VOLTS, number)
            amps, _ = exchanges.ask(AMPS, number)
            exchanges.prove()
        except AskAgain:
            pass
        except Reopen:
            talk.begin(8 * TIMEOUT_S)
            with suppress(AskAgain):
                talk.start_over()
        else:
            good += 1
            given = supply.values[before:]
            assert ("V?", volts) in given
            assert ("I?", amps) in given
        clock.wait(pause_s)
    assert good > 10


def test_rule_4_a_sentinel_counts_as_lost_though_others_talk_all_the_time() -> None:
    bench = Bench(Supply(V=[""] + ["5.02"] * 5, I=["3.01"] * 5))
    with pytest.raises(AskAgain):
        bench.poll()
    bench.supply.rows["ID?"][:1] = [""]  # the sentinel is lost
    for _ in range(3 * LOST_TIMEOUTS):
        # Something of somebody else comes within each time-out.
        bench.link.send(Piece(0.03, b"#07,ping\n"))
        try:
            bench.talk.settle()
        except AskAgain:
            continue
        except Reopen:
            continue
        break
    assert bench.poll() == (5.02, 3.01)


class Doubling(Supply):
    """Gives its last answer once more, late, just before the true one."""

    def receive(self, data: bytes) -> list[Piece]:
        last, true = self.rows["V?"][:2]
        if data.strip() == b"V?" and self.takes_s > 0.01:
            self.rows["V?"] = self.rows["V?"][1:]
            return [Piece(0.05, f"{last}\n".encode()), Piece(0.005, f"{true}\n".encode())]
        if data.strip() == b"V?":
            return [Piece(self.takes_s, f"{last}\n".encode())]
        return super().receive(data)


@pytest.mark.parametrize("has_sentinel", [True, False])
def test_a_slow_answer_the_same_as_before_may_be_that_given_twice(has_sentinel: bool) -> None:
    bench = Bench(Doubling(V=["12.0", "13.0", "14.0"]), has_sentinel)
    for _ in range(2):
        bench.exchanges.begin()
        assert bench.exchanges.ask(VOLTS, number)[0] == 12.0
        bench.exchanges.prove()
    bench.supply.takes_s = 0.05
    bench.exchanges.begin()
    assert bench.exchanges.ask(VOLTS, number)[0] == 12.0
    with pytest.raises(GarbledAnswer):
        bench.exchanges.prove()


@pytest.mark.parametrize(("takes_s", "proofs"), [(0.01, 0), (0.05, 1)])
def test_an_answer_the_same_as_before_is_proven_only_where_slow(
    takes_s: float, proofs: int
) -> None:
    bench = Bench(Supply(V=["12.0", "12.0"]))
    for each_s in (0.01, takes_s):
        bench.supply.takes_s = each_s
        bench.exchanges.begin()
        bench.exchanges.ask(VOLTS, number)
        bench.exchanges.prove()
    assert bench.supply.questions.count("ID?") == proofs


@pytest.mark.parametrize("has_sentinel", [True, False])
def test_rule_6_after_a_copy_no_answer_alone_in_its_poll_is_an_older_one(
    has_sentinel: bool,
) -> None:
    bench = Bench(Supply(V=["12.0", "13.0", "12.0|14.0", "15.0"]), has_sentinel)

    def poll() -> float:
        bench.exchanges.begin()
        volts, _ = bench.exchanges.ask(VOLTS, number)
        bench.exchanges.prove()
        return volts

    assert poll() == 12.0
    bench.link.send(Piece(0.0, b"12.0\n"))  # the answer once more, before the next question
    bench.clock.pass_s(0.05)
    assert poll() == 13.0
    assert bench.supply.questions.count("V?") == 2
    # From now on an answer that is followed by another one is not used.
    bench.supply.gap_s = 0.005
    with pytest.raises(GarbledAnswer):
        poll()
    assert poll() == 15.0
