"""Stores cut and spoilt at 300 random places each: `make bench-damage` writes DAMAGE.md."""

import sys
import time
from pathlib import Path

from benchmarks.damaged import cut_logs, turned_logs, turned_stores
from benchmarks.page import Figure, write

REPORT = Path(__file__).with_name("DAMAGE.md")
SPOILS = {
    "the log of a store in mid-run cut": cut_logs,
    "one bit of that log turned over": turned_logs,
    "one bit of a finished store turned over": turned_stores,
}


def main() -> int:
    """Spoil so many stores in each way, 300 unless told otherwise; 1 where anything was wrong."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    began_s, wrong, rows = time.monotonic(), list[str](), list[Figure]()
    for name, spoil in SPOILS.items():
        outcomes = spoil(count, 2026)
        wrong += outcomes.wrong
        rows += [
            Figure(f"{name}: {words}", f"{times} of {count}")
            for words, times in sorted(outcomes.counts.items())
        ]
    what = "committed rows lost, doubled or changed in silence; damaged files deleted"
    rows.append(Figure(what, f"{len(wrong)}", "0", not wrong))
    print(*wrong, sep="\n")
    below = f"{count} of each, in {time.monotonic() - began_s:.0f} s."
    return write(REPORT, "Stores that were cut or damaged", "make bench-damage", rows, below)


if __name__ == "__main__":
    sys.exit(main())
