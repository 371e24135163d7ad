"""One bad point neither blocks the others nor vanishes."""

from collections.abc import Sequence

import pytest

from monitor.forward.delivery import REFUSALS_IN_A_ROW, Courier
from monitor.forward.reply import Meaning, Reply
from tests.monitor.forward.bench import TAKEN, MemorySink

LINES = [f"bath amps={number} {number}" for number in range(1000)]


class PickySink(MemorySink):
    """Refuses batches that hold one of some lines; keeps the rest of them if told to."""

    def __init__(self, bad: set[str], words: str = "bad point", keeps_the_rest: bool = False):
        super().__init__()
        self.bad = bad
        self.words = words
        self.keeps_the_rest = keeps_the_rest
        self.calls = 0

    def write(self, lines: Sequence[str]) -> Reply:
        self.calls += 1
        found = [line for line in lines if line in self.bad]
        if not found:
            return super().write(lines)
        if self.keeps_the_rest:
            self.taken += [line for line in lines if line not in self.bad]
            words = f"partial write: {self.words} dropped={len(found)}"
            return Reply(Meaning.REFUSED, 400, words)
        return Reply(Meaning.REFUSED, 422, self.words)


@pytest.mark.parametrize("at", [0, 1, 499, 500, 998, 999])
def test_exactly_the_bad_point_is_kept_apart_and_the_rest_comes_in_order(at: int) -> None:
    sink = PickySink({LINES[at]})
    result = Courier(sink).deliver(LINES)
    assert result.is_dealt_with
    assert result.quarantined == ((LINES[at], "422 bad point"),)
    assert sink.taken == [line for line in LINES if line != LINES[at]]
    assert result.taken == 999
    # Halving 1,000 lines takes ten levels of two writes each.
    assert sink.calls <= 21


def test_several_bad_points_are_each_found() -> None:
    bad = {LINES[3], LINES[4], LINES[700]}
    result = Courier(PickySink(bad)).deliver(LINES)
    assert {line for line, _ in result.quarantined} == bad
    assert result.taken == 997


def test_where_the_server_keeps_the_good_part_exactly_the_bad_ones_are_kept_apart() -> None:
    bad = {LINES[3], LINES[4], LINES[700]}
    sink = PickySink(bad, keeps_the_rest=True)
    result = Courier(sink).deliver(LINES)
    assert {line for line, _ in result.quarantined} == bad
    assert set(sink.taken) == set(LINES) - bad


def test_where_the_server_says_that_all_were_refused_nothing_is_halved() -> None:
    sink = PickySink(set(LINES), keeps_the_rest=True)
    result = Courier(sink).deliver(LINES)
    assert len(result.quarantined) == 1000
    assert sink.calls == 1


def test_points_beyond_retention_are_skipped_and_counted_not_kept() -> None:
    words = "points beyond retention policy"
    result = Courier(PickySink(set(LINES), words, keeps_the_rest=True)).deliver(LINES)
    assert (result.is_dealt_with, result.too_old, result.quarantined) == (True, 1000, ())
    sink = PickySink(set(LINES[:250]), words)
    courier = Courier(sink)
    result = courier.deliver(LINES)
    assert (result.is_dealt_with, result.too_old, result.taken) == (True, 250, 750)
    # Not one by one: what is older than a point that is too old is too old.
    assert sink.calls <= 21
    assert courier.deliver(LINES[:250]).too_old == 250
    assert sink.calls <= 21


def test_a_server_that_refuses_everything_does_not_empty_the_store_into_quarantine() -> None:
    courier = Courier(PickySink(set(LINES), "no"))
    result = courier.deliver(LINES)
    assert not result.is_dealt_with
    assert result.quarantined == ()
    assert result.reply is not None
    assert result.reply.text == "422 no (all): check forward.url, org and bucket"


def test_so_many_bad_points_in_single_batches_are_the_server_too() -> None:
    courier = Courier(PickySink(set(LINES), "no"))
    dealt_with = [courier.deliver([line]).is_dealt_with for line in LINES[:20]]
    assert dealt_with == [True] * (REFUSALS_IN_A_ROW - 1) + [False] * (21 - REFUSALS_IN_A_ROW)


def test_a_good_point_between_bad_ones_shows_that_it_is_the_points() -> None:
    bad = set(LINES[::2])
    result = Courier(PickySink(bad)).deliver(LINES[:100])
    assert (result.is_dealt_with, len(result.quarantined), result.taken) == (True, 50, 50)


def test_too_large_is_sent_in_smaller_pieces() -> None:
    class SmallSink(MemorySink):
        def write(self, lines: Sequence[str]) -> Reply:
            if len(lines) > 100:
                return Reply(Meaning.TOO_LARGE, 413, "too large")
            return super().write(lines)

    sink = SmallSink()
    result = Courier(sink).deliver(LINES)
    assert (result.is_dealt_with, result.taken, result.quarantined) == (True, 1000, ())
    assert sink.taken == LINES


@pytest.mark.parametrize(
    ("reply", "may_have_lost"),
    [
        (Reply(Meaning.UNREACHABLE), True),
        (Reply(Meaning.BUSY, 503), True),
        (Reply(Meaning.BUSY, 429), False),
        (Reply(Meaning.NOT_LET_IN, 401), False),
        (Reply(Meaning.WRONG_PLACE, 404), False),
    ],
)
def test_what_is_not_about_points_leaves_the_whole_batch_for_later(
    reply: Reply, may_have_lost: bool
) -> None:
    refused = Reply(Meaning.REFUSED, 422, "x")
    for script in ([reply], [refused, TAKEN, reply]):
        result = Courier(MemorySink(script)).deliver(LINES)
        assert not result.is_dealt_with
        assert (result.taken, result.quarantined) == (0, ())
        assert result.may_have_lost is may_have_lost
