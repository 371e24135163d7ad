"""How a link stands is told to the run where it changes: the numbered rules of `link_watch.py`."""

import pytest

from drivers.link.dialogue import Tally
from drivers.link_standing import LinkStanding
from drivers.reply_times import ReplyTimes
from monitor.model.event import Status
from monitor.recorder.link_watch import LinkJudge
from monitor.text.badges import badges


def standing(
    asked: int,
    late: int = 0,
    garbled: int = 0,
    reply_s: float = 0.01,
    notices: tuple[str, ...] = (),
) -> LinkStanding:
    times = ReplyTimes()
    for _ in range(20):
        times.add(reply_s)
    answered = asked - late - garbled
    return LinkStanding(times, Tally(asked, answered, late, garbled), notices)


def test_rule_1_a_slow_supply_is_told_with_the_rate_that_it_allows() -> None:
    told = LinkJudge(poll_s=1.0).look(standing(30, reply_s=1.3))
    assert told is not None
    text, is_well = told
    assert text.startswith("SUPPLY IS SLOW: replies take 1300 ms")
    assert "allows 1 reading per 1.3 s" in text
    assert badges({"link": Status("link", 0, text, is_well)}) == (("SUPPLY IS SLOW", False),)


@pytest.mark.parametrize(
    ("asked", "late", "garbled", "poor"),
    [(100, 3, 2, True), (100, 4, 0, False), (10, 1, 1, False), (40, 0, 3, True)],
)
def test_rule_2_many_late_or_unreadable_answers_are_a_poor_link(
    asked: int, late: int, garbled: int, poor: bool
) -> None:
    told = LinkJudge(0.2).look(standing(asked, late, garbled))
    assert told is not None
    assert told[0].startswith("LINK IS POOR: ") == poor
    assert told[1] is (None if poor else True)


def test_rule_2_what_lies_before_the_last_look_is_not_held_against_it() -> None:
    judge = LinkJudge(0.2)
    assert judge.look(standing(100, late=10)) is not None
    told = judge.look(standing(200, late=10))
    assert told is not None
    assert told[1] is True


def test_rule_3_a_good_link_has_its_words_and_no_badge() -> None:
    told = LinkJudge(0.2).look(standing(100))
    assert told == (
        "link: replies take 10 ms (99 of 100 at most 10 ms); "
        "100 of 100 questions answered, 0 late, 0 unreadable",
        True,
    )
    assert badges({"link": Status("link", 0, *told)}) == ()


def test_rule_4_the_same_verdict_is_told_again_only_with_something_new_or_at_the_end() -> None:
    judge = LinkJudge(0.2)
    assert judge.look(standing(100)) is not None
    assert judge.look(standing(200)) is None
    told = judge.look(standing(300, notices=("our own questions come back",)))
    assert told is not None
    assert told[0].endswith("; our own questions come back")
    assert judge.look(standing(400, notices=("our own questions come back",))) is None
    last = judge.look(standing(500, notices=("our own questions come back",)), is_last=True)
    assert last is not None
    assert "500 of 500" in last[0]


def test_a_driver_that_tells_nothing_has_no_status() -> None:
    assert LinkJudge(0.2).look(LinkStanding(), is_last=True) is None
