"""SIGKILL at 500 random points of a recording: `make bench-kills` writes KILLS.md."""

import sys
import tempfile
import time
from pathlib import Path

from benchmarks.page import Figure, write
from tests.whole.kill_loop import held, kill_again_and_again

REPORT = Path(__file__).with_name("KILLS.md")


def main() -> int:
    """Kill so often, 500 times unless told otherwise; 1 where anything was wrong."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    began_s, wrong = time.monotonic(), []
    with tempfile.TemporaryDirectory() as folder:
        for findings in kill_again_and_again(Path(folder), kills, seed=2026):
            wrong += findings
        rows = len(held(Path(folder) / "runs.db").rows)
    seconds = time.monotonic() - began_s
    what = "committed rows lost, doubled or changed; alarms or acknowledgements lost"
    figures = [
        Figure("rows at the end", f"{rows}"),
        Figure(what, f"{len(wrong)}", "0", not wrong),
    ]
    below = (
        f"{kills} times SIGKILL in {seconds:.0f} s, in the second half with a mute supply and "
        "acknowledgements."
    )
    print(*wrong, sep="\n")
    return write(REPORT, "A recorder killed at random points", "make bench-kills", figures, below)


if __name__ == "__main__":
    sys.exit(main())
