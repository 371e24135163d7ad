"""Rows as a bench records them: three decimals, jitter, one spike, one poll without an answer."""

import random
from collections.abc import Iterator

from drivers.base.clock import SystemClock
from drivers.reading import Mode
from monitor.model.run import RunFacts
from monitor.model.sample import Gap, Sample
from monitor.store.writer import StoreWriter

BEGAN_UTC_NS = 1_790_000_000_000_000_000
SPIKE_AMPS = 9.875
BATCH = 900
"""Rows of a batch, few enough that older ones are sealed as the run goes."""


def rows_of_a_run(count: int, poll_ns: int) -> Iterator[Sample | Gap]:
    """`count` rows, `poll_ns` apart; a spike and a gap of one row each in the middle."""
    draw = random.Random(1)
    for seq in range(count):
        t_ns = seq * poll_ns + draw.randrange(150_000)
        utc_ns = BEGAN_UTC_NS + seq * poll_ns + draw.randrange(150_000)
        if seq == count // 2 + 100:
            yield Gap(seq, t_ns, utc_ns, "no answer")
            continue
        amps = SPIKE_AMPS if seq == count // 2 else round(draw.gauss(5.0, 0.02), 3)
        yield Sample(
            seq,
            t_ns,
            utc_ns,
            draw.randrange(900, 1400),
            round(draw.gauss(9.0, 0.01), 3),
            amps,
            round(25 + seq * 4e-7 + draw.random() * 0.02, 2),
            Mode.CONSTANT_VOLTAGE,
        )


def begin(writer: StoreWriter, supply: str = "bench-1", poll_s: float = 1.0) -> int:
    """Begin a run; its number."""
    facts = RunFacts(supply, "scpi:/dev/ttyUSB0", 10.0, poll_s=poll_s)
    return writer.begin_run(facts, clock=SystemClock(), program="benchmark").run


def write_run(writer: StoreWriter, run: int, rows: Iterator[Sample | Gap]) -> None:
    """Write rows batch by batch."""
    batch: list[Sample | Gap] = []
    for row in rows:
        batch.append(row)
        if len(batch) == BATCH:
            writer.write([(run, entry) for entry in batch])
            batch = []
    writer.write([(run, entry) for entry in batch])
