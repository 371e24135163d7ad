"""Whether the copy of a store at its server keeps up, looked at by the recorder."""

import subprocess
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from drivers.base.clock import Clock
from monitor.base.errors import BathvigilError, StoreError
from monitor.forward.process import is_forwarded, last_words, start_forwarder
from monitor.forward.reply import one_line
from monitor.forward.standing import standing_text
from monitor.model.alarm import AlarmName
from monitor.model.finding import Finding
from monitor.store.forward_rows import ForwardState
from monitor.store.forward_state import forward_states

LOOK_EVERY_S = 10.0
BEHIND_S = 600.0
"""Ten minutes of readings that the server lacks, and not fewer than a minute ago."""
TREND_S = 60.0
GONE_S = 30.0
"""So long there may be no process: it is being started, or started again."""
AGAIN_S = 60.0
"""Between two tries to start it again."""


@dataclass(frozen=True, slots=True)
class Forwarded:
    """What is to be forwarded.

    Parameters
    ----------
    config
        The bench.toml that asks for it.
    place
        Names the server; see `ForwardPlan.place`.
    """

    config: Path
    place: str


class ForwardWatch:
    """Raises `forward-behind`, and starts a forwarder that died again.

    Parameters
    ----------
    store
        What is forwarded.
    forwarded
        Where to.
    readings_per_s
        How many readings are taken now in a second of the machine's time.
    report
        Called with each finding.
    start
        Starts a forwarder if none runs.
    """

    def __init__(
        self,
        store: Path,
        forwarded: Forwarded,
        readings_per_s: Callable[[], float],
        clock: Clock,
        report: Callable[[Finding], None],
        start: Callable[[Path, Path], "subprocess.Popen[bytes] | None"] = start_forwarder,
    ) -> None:
        self._store = store
        self._forwarded = forwarded
        self._readings_per_s = readings_per_s
        self._clock = clock
        self._report = report
        self._start = start
        self._there_ns = self._started_ns = clock.monotonic_ns()
        self._process: subprocess.Popen[bytes] | None = None
        self._behind: deque[tuple[int, int]] = deque()

    def look_and_report(self) -> None:
        """Look once; may wait for the store."""
        finding = self.look()
        if finding is not None:
            self._report(finding)

    def look(self) -> Finding | None:
        """How forwarding stands now; None where the store cannot be read (reported elsewhere)."""
        if not is_forwarded(self._store):
            return self._gone()
        self._there_ns = self._clock.monotonic_ns()
        try:
            states = {state.place: state for state in forward_states(self._store)}
        except StoreError:
            return None
        state = states.get(self._forwarded.place)
        return None if state is None else self._judged(state)

    def _judged(self, state: ForwardState) -> Finding:
        now_ns = self._clock.monotonic_ns()
        self._behind.append((now_ns, state.behind))
        while now_ns - self._behind[0][0] > TREND_S * 1e9:
            self._behind.popleft()
        is_far = state.behind > BEHIND_S * self._readings_per_s()
        # What shrinks needs nobody: a backlog that is being sent is no reason to call anyone.
        shrinks = len(self._behind) > 1 and state.behind < self._behind[0][1]
        return Finding(AlarmName.FORWARD_BEHIND, is_far and not shrinks, standing_text(state))

    def _gone(self) -> Finding:
        if self._process is not None:
            # Else the dead one stays in the system's list of processes.
            self._process.poll()
        now_ns = self._clock.monotonic_ns()
        last = last_words(self._store)
        if now_ns - self._started_ns >= AGAIN_S * 1e9:
            self._started_ns = now_ns
            try:
                self._process = self._start(self._forwarded.config, self._store)
            except BathvigilError as wrong:
                # The settings were changed meanwhile, and cannot be read now.
                last = one_line(str(wrong))
        is_long = now_ns - self._there_ns > GONE_S * 1e9
        words = f"no forwarder runs for {self._store.name}"
        return Finding(AlarmName.FORWARD_BEHIND, is_long, f"{words}: {last}" if last else words)
