"""Jobs of an invented bath, as the ledger sees them."""

from monitor.baths.job_run import JobRun, SetUp

BELL = SetUp("bench-1", "tank", "bell", True)
BAR = SetUp("bench-1", "tank", "handlebar", True)


def a_job(
    number: int, siemens: float, set_up: SetUp = BELL, copper_ohms: float | None = None
) -> JobRun:
    """Job `number`, begun at 1000 ns times it."""
    peak = siemens * 1.1 * 4.2
    return JobRun(
        number, number * 1000, "north tank", set_up, 10.0, siemens, peak, 6.0, 1.8, 21.0,
        0.4, 1.0, 1.6, 0.3, True, copper_ohms,
    )  # fmt: skip
