"""The points of one run: measurements, tags and fields, in one place.

| measurement | one point for | further tags | fields |
| --- | --- | --- | --- |
| bath_reading | each due poll | | volts, amps, celsius, latency_s, mode, quality |
| bath_estimate | each stored estimate | | trip_in_s, amp_hours, coverage, siemens, and more |
| bath_alarm | each change of an alarm | alarm, change, priority | standing, occurrence, message |
| bath_mark | each mark | | number, text |

Every point has the tags site, bench, supply, bath and run, and step where a job card named one: the
step in force at the point's own time, so that a point that is sent again has the same tags whatever
cards came since. Numbers are floats; `mode` and `quality` are the store's codes. A poll without an
answer is a point with quality 3 and no volts or amps.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import isfinite

from drivers.reading import Mode
from monitor.forward.line import Field, head, line
from monitor.model.alarm import AlarmEvent, State
from monitor.model.estimate import Estimate
from monitor.model.event import Mark
from monitor.model.run import RunRow
from monitor.model.sample import Gap, Quality, Sample


@dataclass(frozen=True, slots=True)
class Point:
    """One line, None where there is nothing to send; and whether it lacks volts and amps."""

    text: str | None
    is_without_number: bool = False


class RunPoints:
    """Makes the lines of one run.

    Parameters
    ----------
    row
        The run.
    site, bench
        Name the shop and the bench to whoever looks at many.
    """

    def __init__(self, row: RunRow, site: str, bench: str) -> None:
        self._tags = {
            "site": site,
            "bench": bench,
            "supply": row.facts.supply,
            "bath": row.facts.bath,
            "run": run_tag(row),
        }
        self._from_ns: list[int] = []
        self._steps: list[str] = [""]
        self._heads: dict[tuple[str, str], str] = {}

    def know(self, steps: Sequence[tuple[int, str]]) -> None:
        """Take the steps of the job; see `StoredRun.steps`.

        They must be read after the rows that points are made of: a card that is in force at a row
        was committed before it, so that it is seen then, and later ones change nothing.
        """
        self._from_ns = [from_ns for from_ns, _ in steps]
        self._steps = ["", *(step for _, step in steps)]

    def reading(self, row: Sample | Gap) -> Point:
        """A due poll, answered or not."""
        if isinstance(row, Gap):
            quality = {"quality": float(Quality.MISSING)}
            return Point(line(self._head("bath_reading", row.utc_ns), quality, row.utc_ns), True)
        fields = {
            "amps": row.amps,
            "celsius": row.celsius,
            "latency_s": row.latency_us / 1e6,
            "mode": None if row.mode is Mode.UNKNOWN else float(row.mode),
            "quality": float(row.quality),
            "volts": row.volts,
        }
        is_without = not any(
            value is not None and isfinite(value) for value in (row.amps, row.volts)
        )
        return Point(line(self._head("bath_reading", row.utc_ns), fields, row.utc_ns), is_without)

    def estimate(self, estimate: Estimate, utc_ns: int) -> Point:
        """An estimate, at the wall-clock time of its reading."""
        forecast, charge = estimate.forecast, estimate.charge
        fields = {
            "amp_hours": charge.amp_hours,
            "amps_expected": estimate.amps_expected,
            "chance_within_horizon": forecast.chance_within_horizon,
            "coverage": charge.coverage,
            "siemens": estimate.siemens,
            "siemens_per_minute": estimate.siemens_per_minute,
            "trip_in_s": forecast.trip_in_s,
            "trip_in_low_s": forecast.trip_in_low_s,
            "trip_in_high_s": forecast.trip_in_high_s,
            "warming_share": estimate.warming_share,
        }
        return Point(line(self._head("bath_estimate", utc_ns), fields, utc_ns))

    def alarm(self, event: AlarmEvent, utc_ns: int) -> Point:
        """A change of an alarm, at the wall-clock time of the reading that caused it."""
        own = {"alarm": event.alarm, "change": event.change, "priority": event.priority}
        tags = {**self._tags, "step": self._step(utc_ns), **own}
        fields: dict[str, Field | None] = {
            "message": event.message,
            "occurrence": float(event.occurrence),
            "standing": float(event.state is not State.NORMAL),
            "state": event.state.value,
            "trip_in_s": event.trip_in_s,
        }
        return Point(line(head("bath_alarm", tags), fields, utc_ns))

    def mark(self, mark: Mark) -> Point:
        """A mark with the texts it has so far; sent again when one is added."""
        fields: dict[str, Field | None] = {"number": float(mark.number), "text": mark.text}
        return Point(line(self._head("bath_mark", mark.utc_ns), fields, mark.utc_ns))

    def _step(self, utc_ns: int) -> str:
        """The step in force at a moment; "" for none."""
        return self._steps[bisect_right(self._from_ns, utc_ns)]

    def _head(self, measurement: str, utc_ns: int) -> str:
        step = self._step(utc_ns)
        series = self._heads.get((measurement, step))
        if series is None:
            series = head(measurement, {**self._tags, "step": step})
            self._heads[measurement, step] = series
        return series


def run_tag(row: RunRow) -> str:
    """A run's name at the server: when it began, and its number in its store.

    A bench that begins a new store counts from 1 again, so the number alone would not do.
    """
    began = datetime.fromtimestamp(row.began_utc_ns // 1_000_000_000, UTC)
    return f"{began:%Y%m%dT%H%M%SZ}-{row.run}"
