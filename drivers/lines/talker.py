"""The driver for a supply that sends lines by itself; it is never asked anything.

Rules, each with its test:

1. The newest whole line wins; where a supply says one thing on several lines, the newest of them
   that fit together.
2. The first line after an opening, or after what was thrown away, may have lost its beginning: it
   is dropped.
3. From one that speaks less often than every `FRESH_FROM_S` seconds the next line is waited for:
   nobody knows when one that lies there had come.
4. What waited for longer than `MOST_PERIODS` of its periods is thrown away: a value is never older
   than that.
5. What it says after a silence in which lines are missing is suspect: it may have been held back on
   the way, or be an old line once more. A line that says no time cannot prove its own.
"""

from collections import deque
from dataclasses import replace

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.errors import (
    GarbledAnswer,
    NoAnswer,
    NotUnderstood,
    Reopen,
    SupplySilent,
)
from drivers.lines.answer_form import LineValues
from drivers.lines.lines_description import LinesDescription
from drivers.link.dialogue import SILENT_LIMIT, Tally
from drivers.link.line_buffer import LineBuffer
from drivers.link.link import SLICE_S, Link, after
from drivers.link_driver import CONNECT_S, closed_on_failure
from drivers.reading import Identity, Reading

MOST_PERIODS = 1.5
PATIENCE_PERIODS = 2.5
FRESH_FROM_S = 1.0
MISSING_LINES = 1.25
"""More missing lines than this are a silence; a single one is a line lost, or early."""
PACE_STEP = 1.02
"""By so much at the most the pace follows with each reading: a silence is no pace."""
LOST_COUNT = 20
"""Periods without a look, after which lines are no longer counted."""
AFTER_SILENCE = "said after a silence: it may be an older line"
_PAST = 0


class Talker:
    """One supply that speaks unasked; a `Driver`.

    Parameters
    ----------
    link
        Closed; it lets no question pass.
    every_s
        How often the supply speaks, seconds.
    """

    def __init__(
        self, link: Link, clock: Clock, description: LinesDescription, every_s: float, who: str
    ) -> None:
        self.link = link
        self.clock = clock
        self.description = description
        self.every_s = every_s
        self.who = who
        self.tally = Tally()
        self._lines = LineBuffer()
        self._block: deque[str] = deque(maxlen=description.asked[0].lines)
        self._skips = 1
        self._looked_ns = 0
        self._pace_s = every_s
        self._said = 0
        self._taken_ns = 0
        self._silent_in_a_row = 0
        self._is_open = False

    @property
    def deadline_s(self) -> float:
        return CONNECT_S + 2 * PATIENCE_PERIODS * self.every_s + 2 * SLICE_S

    def open(self) -> Identity:
        self.close()
        with closed_on_failure(self.close):
            self.link.open(after(self.clock, CONNECT_S))
            self._start_over()
            self._is_open = True
            self.read()
        return Identity(inert(self.description.heading.title))

    def read(self) -> Reading:
        if not self._is_open:
            raise Reopen(f"{self.who}: the supply is not open")
        now_ns = self.clock.monotonic_ns()
        is_old = now_ns - self._looked_ns > MOST_PERIODS * self.every_s * 1e9
        while data := self.link.read(_PAST):
            self._lines.feed(data)
        if is_old:
            self._throw_away(now_ns)
        self._looked_ns = now_ns
        text = self._newest()
        if self.every_s > FRESH_FROM_S:
            text = None
        deadline_ns = after(self.clock, PATIENCE_PERIODS * self.every_s)
        while text is None:
            data = self.link.read(deadline_ns)
            self._lines.feed(data)
            text = self._newest()
            if text is None and self.clock.monotonic_ns() >= deadline_ns:
                self._silent()
        self._looked_ns = heard_ns = self.clock.monotonic_ns()
        self._silent_in_a_row = 0
        values = self._understood(text)
        reading = self.description.reading(values.numbers, values.status, apart_s=0.0)
        doubt = AFTER_SILENCE if self._was_silent(heard_ns) else reading.doubt
        # It was measured at the end of the wait, not in its middle.
        return replace(reading, span_ns=(heard_ns, heard_ns), doubt=doubt)

    def _throw_away(self, now_ns: int) -> None:
        """Drop what may lie there since long ago, and the half of a line behind it."""
        count = 0
        while self._lines.take() is not None:
            count += 1
        if (self._lines.discard() or count) and self._looked_ns:
            self._block.clear()
            self._skips = 1
            self.tally.late += 1
        self._said += count
        if now_ns - self._taken_ns > LOST_COUNT * self.every_s * 1e9:
            # The system keeps no more of them: nobody knows how many there were.
            self._said, self._taken_ns = 0, now_ns

    def _was_silent(self, heard_ns: int) -> bool:
        """Whether lines are missing since the last reading; the supply's own pace is followed."""
        said = self._said / (self._block.maxlen or 1)
        passed_s = (heard_ns - self._taken_ns) / 1e9
        self._said, self._taken_ns = 0, heard_ns
        missing = passed_s / self._pace_s - said
        if said:
            now_s = min(max(passed_s / said, self._pace_s / PACE_STEP), self._pace_s * PACE_STEP)
            self._pace_s = max(now_s, 0.5 * self.every_s)
        return missing > MISSING_LINES

    def close(self) -> None:
        self._is_open = False
        self.link.close()

    def _start_over(self) -> None:
        self._lines.discard()
        self._block.clear()
        self._skips = 1
        self._looked_ns = 0
        self._said, self._taken_ns = 0, self.clock.monotonic_ns()

    def _newest(self) -> str | None:
        newest = None
        while (text := self._lines.take()) is not None:
            self._said += 1
            if self._skips:
                self._skips -= 1
            else:
                self._block.append(text)
                newest = self._whole() or newest
        return newest

    def _whole(self) -> str | None:
        """What it says by its newest lines; of several, only those that fit together."""
        text = "\n".join(self._block)
        if self._block.maxlen == 1:
            return text
        try:
            self.description.asked[0].form.understand(text)
        except NotUnderstood:
            return None
        return text

    def _understood(self, text: str) -> LineValues:
        try:
            values = self.description.asked[0].form.understand(text)
        except NotUnderstood as error:
            self.tally.garbled += 1
            raise GarbledAnswer(
                f"{self.who}: it said {inert(text)!r}: {error}; check baud rate and wiring, and "
                "that its description fits"
            ) from error
        self.tally.answered += 1
        return values

    def _silent(self) -> None:
        waited_s = PATIENCE_PERIODS * self.every_s
        self._silent_in_a_row += 1
        kind = SupplySilent if self._silent_in_a_row >= SILENT_LIMIT else NoAnswer
        if partial := self._lines.pending:
            self.tally.garbled += 1
            raise GarbledAnswer(
                f"{self.who}: {len(partial)} bytes without an end in {waited_s:g} s "
                f"({inert(partial.decode('latin-1'), 40)!r}): check baud rate and wiring"
            )
        raise kind(
            f"{self.who}: it said nothing for {waited_s:g} s, though it should speak by itself: "
            "check that it is on, its cable and its baud rate"
        )
