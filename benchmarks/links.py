"""Links measured: rate on a paced line, CPU per poll, 64 supplies at once, reconnects, bad links.

    python -m benchmarks.links [--quick] [--to benchmarks/LINKS.md]

Each figure stands beside its goal. The other end of every wire is one of `simulators/`, in a
process of its own where time or CPU is measured.
"""

import argparse
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path

from benchmarks.link_crowd import crowd
from benchmarks.link_rate import ROUNDS, rates
from benchmarks.link_reconnects import reconnects
from benchmarks.link_trial import LINK_KINDS, run_trial
from benchmarks.page import Figure, write

MOST_LATE = 0.001
PARTS: dict[str, Callable[[bool], Iterable[Figure]]] = {
    "rate": rates,
    "crowd": crowd,
    "reconnects": reconnects,
}
"""What can be measured, by name; the bad links besides."""


def bad_links(is_quick: bool) -> Iterable[Figure]:
    """Thousands of polls over bad links: whose values are stored?"""
    polls = 500 if is_quick else 10_000
    # Mostly waiting: side by side, each in a process of its own.
    with ProcessPoolExecutor(len(LINK_KINDS)) as pool:
        outcomes = list(pool.map(run_trial, LINK_KINDS, repeat(polls)))
    for kind, outcome in zip(LINK_KINDS, outcomes, strict=True):
        reasons = ", ".join(f"{reason} {n}" for reason, n in outcome.reasons.most_common())
        wrong = len(outcome.foreign) + len(outcome.unfit) + len(outcome.commands)
        late = len(outcome.unaccounted)
        yield Figure(
            f"bad link, {kind.name}: {polls} polls",
            f"{len(outcome.foreign)} values of another question, {len(outcome.unfit)} reasons that "
            f"do not fit, {len(outcome.commands)} commands sent; {late} failed with no fault "
            f"since the last good one, {outcome.stalled} while this machine stood still; "
            f"{outcome.good} good; {reasons}",
            f"0, 0, 0; at most {MOST_LATE:.1%}",
            wrong == 0 and late <= MOST_LATE * outcome.polls,
        )


BELOW = f"""Pseudo-terminals and loopback; no real serial hardware.

The rate is held against the bits of the frames and, on a Modbus line, the silences of
3.5 characters (Modbus over Serial Line V1.02, 2.5.1.1). Bare loop: pyserial alone,
sending and reading the same bytes on the same line in the same run, and understanding
nothing. Of each, the best of {ROUNDS} rounds in turn. A question counts from when it
was written: what a pseudo-terminal takes at the least to hand it over is taken off, as
a port sends at once. The answer's way through the system is left in.

Bad links: a quarter of the questions meet a fault, late answers drawn around the
time-out of 30 ms most often. Polls are 8 ms apart, and wait for an answer that is said
twice: nobody could tell it from the next one where polls are closer.
A byte turned into another is left out where the protocol has no check sum of its own
(text, Modbus/TCP), exceptions 05 and 06 since a rest of a second follows them. Polls
that fail after this machine itself stood still for 10 ms are counted, not judged.
Reconnects: without a station's own waits between tries, which go up to 10 s.
"""


def main() -> None:
    known = {**PARTS, "bad-links": bad_links}
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer polls, for a first look")
    parser.add_argument("--only", choices=sorted(known), action="append", help="only this part")
    parser.add_argument("--to", type=Path, help="write the page here")
    options = parser.parse_args()
    figures = []
    for name in options.only or known:
        for figure in known[name](options.quick):
            print(f"{figure.what}: {figure.measured}", flush=True)
            figures.append(figure)
    if options.to is not None:
        is_part = options.quick or options.only
        command = f"python -m benchmarks.links {' '.join(sys.argv[1:])}"
        write(options.to, "Links", command if is_part else "make bench-links", figures, BELOW)
    sys.exit(int(any(figure.is_met is False for figure in figures)))


if __name__ == "__main__":
    main()
