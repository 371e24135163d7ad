"""Due times: an absolute grid, no burst, nothing forgotten."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.recorder.schedule import Due, Schedule


@given(
    poll_ms=st.integers(50, 2000),
    delays_ms=st.lists(st.integers(0, 5000), min_size=1, max_size=60),
)
def test_every_place_of_the_grid_is_told_once_and_in_order(
    poll_ms: int, delays_ms: list[int]
) -> None:
    grid = Schedule(began_ns=7, poll_s=poll_ms / 1000)
    told: list[Due] = []
    now_ns = 7
    for delay_ms in delays_ms:
        now_ns = max(now_ns, grid.next_ns) + delay_ms * 1_000_000
        missed, due = grid.take(now_ns)
        told += [*missed, due]
        # No catching up: after a place was polled the next lies after now.
        assert grid.next_ns > now_ns
    assert [due.seq for due in told] == list(range(len(told)))
    assert [due.t_ns for due in told] == [n * poll_ms * 1_000_000 for n in range(len(told))]


def test_a_run_taken_up_again_goes_on_counting() -> None:
    grid = Schedule(began_ns=0, poll_s=0.5, first_seq=40, first_t_ns=30_000_000_000)
    assert grid.next_ns == 30_000_000_000
    assert grid.take(30_100_000_000) == ([], Due(40, 30_000_000_000))
    assert grid.take(30_600_000_000) == ([], Due(41, 30_500_000_000))
