"""The whole bench on trial for eight hours of bath time: `make bath-test` writes BATH-TEST.md.

Each strip is a trial of its own, from cold bath to switching off, with faults drawn from its own
seed; two run side by side. The four rules that are checked stand in tests/whole/bath_findings.py.
"""

import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields
from pathlib import Path

from benchmarks.page import write
from tests.monitor.recorder.notices.receivers import receiver
from tests.whole.bath_findings import Findings, figures_of, judge
from tests.whole.bath_track import track
from tests.whole.bath_trial import hold_trial

SPEED = 20.0
POLL_S = 4.0
SECONDS = 56.0
"""Real seconds of one strip: its eighteen minutes, and the beginning of the next quiet."""
FAULTS = 40
SIDE_BY_SIDE = 3
REPORT = Path(__file__).with_name("BATH-TEST.md")


def strip(seed: int) -> Findings:
    """One strip."""
    strikes = track(seed, SECONDS, FAULTS)
    with tempfile.TemporaryDirectory() as folder, receiver() as mute:
        for trial in hold_trial(Path(folder), strikes, SECONDS, mute.url, SPEED, POLL_S, seed=seed):
            findings = judge(trial)
    print(
        f"strip {seed}: {findings.stored} samples, {len(findings.broken)} broken rules", flush=True
    )
    for broken in findings.broken:
        print(f"  {broken}", flush=True)
    return findings


def together(findings: list[Findings]) -> Findings:
    """All strips' figures as one."""
    whole = Findings()
    for strip_findings in findings:
        for field in fields(Findings):
            mine, more = getattr(whole, field.name), getattr(strip_findings, field.name)
            is_peak = field.name == "latest_sound_s"
            setattr(whole, field.name, max(mine, more) if is_peak else mine + more)
    return whole


def main() -> int:
    """Hold so many bath hours of trials, 8 unless told otherwise; 1 where a rule was broken."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    strips = int(-(-hours * 3600 // (SECONDS * SPEED)))
    began_s = time.monotonic()
    with ThreadPoolExecutor(SIDE_BY_SIDE) as pool:
        findings = list(pool.map(strip, range(1, strips + 1)))
    seconds = time.monotonic() - began_s
    total = together(findings)
    below = (
        f"{strips} strips at {SPEED:g} times bath time, polled every {POLL_S / SPEED:g} s of real "
        f"time, {SIDE_BY_SIDE} side by side; recorder and screen on terminals, an 80 MB disk, a "
        "notice server that never answers.\n\nA garbled digit is not among the faults: on a line "
        "without a check nobody can tell it from a true one."
    )
    figures = figures_of(total, seconds)
    write(REPORT, "The whole bench under faults", "make bath-test", figures, below)
    return int(bool(total.broken))


if __name__ == "__main__":
    sys.exit(main())
