"""When to poll: due times on an absolute grid, so that no delay of one poll shifts the next."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Due:
    """One place of the grid."""

    seq: int
    t_ns: int


class Schedule:
    """The grid of one run's polls.

    Parameters
    ----------
    began_ns
        Run clock's monotonic time of the run's `t_ns = 0`.
    poll_s
        Distance of the grid, seconds.
    first_seq, first_t_ns
        The first place; later than 0 where a run is taken up again.

    Examples
    --------
    >>> grid = Schedule(began_ns=0, poll_s=1.0)
    >>> grid.take(now_ns=0)
    ([], Due(seq=0, t_ns=0))
    >>> grid.take(now_ns=3_200_000_000)
    ([Due(seq=1, t_ns=1000000000), Due(seq=2, t_ns=2000000000)], Due(seq=3, t_ns=3000000000))
    >>> grid.next_ns
    4000000000
    """

    def __init__(
        self, began_ns: int, poll_s: float, first_seq: int = 0, first_t_ns: int = 0
    ) -> None:
        self.poll_s = poll_s
        self._began_ns = began_ns
        self._poll_ns = round(poll_s * 1e9)
        self._first_seq = first_seq
        self._first_t_ns = first_t_ns
        self._next = 0

    @property
    def next_seq(self) -> int:
        """Number of the next place."""
        return self._first_seq + self._next

    @property
    def next_ns(self) -> int:
        """Run clock's monotonic time of the next place."""
        return self._began_ns + self._first_t_ns + self._next * self._poll_ns

    def take(self, now_ns: int) -> tuple[list[Due], Due]:
        """The places that were missed, and the one to poll for now.

        The last place that is due is polled; those before it can only be written down as missed,
        never made up for in a burst.
        """
        past_ns = now_ns - self._began_ns - self._first_t_ns
        newest = max(past_ns // self._poll_ns, self._next)
        missed = [self._place(n) for n in range(self._next, newest)]
        self._next = newest + 1
        return missed, self._place(newest)

    def _place(self, number: int) -> Due:
        return Due(self._first_seq + number, self._first_t_ns + number * self._poll_ns)
