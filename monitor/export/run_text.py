"""The story of a run as plain text."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import groupby

from monitor.base.moments import clock, local_minute, zone_text
from monitor.model.run import GapRow
from monitor.store.reader import StoredRun
from monitor.text.stops import order_line

MOST_APART = 3
"""Gaps in a row for one reason that have a line each; more of them share one line."""


def run_text(run: StoredRun) -> str:
    """What was recorded, what happened in order, and what was marked."""
    row, summary = run.row, run.summary()
    facts = row.facts
    bath = f" on {facts.bath}" if facts.bath else ""
    began = local_minute(row.began_utc_ns, row.utc_offset_s)
    lines = [
        f"Run {row.run}: {facts.supply}{bath}, began {began} {zone_text(row.utc_offset_s)}, lasted "
        f"{clock(summary.seconds)}; {row.ended_why or 'not ended yet'}",
        f"{summary.samples} samples, {summary.missing} missing in {summary.gaps} gaps; "
        f"{summary.amp_hours:.3f} Ah ({summary.coverage:.1%} of the time recorded); "
        f"limit {facts.limit_amps:g} A ({facts.limit_kind.value})",
    ]
    events = [
        (event.t_ns, f"{event.alarm} {event.change.value}: {event.message}")
        for event in run.alarms()
    ]
    events += [(mark.t_ns, f"mark {mark.number} {mark.text}".rstrip()) for mark in run.marks()]
    events += [(prompt.t_ns, f"{prompt.prompt}: {prompt.message}") for prompt in run.prompts()]
    events += [
        (stop.t_ns, f"what happened: {stop.why}\n{' ' * 10}in order: {order_line(stop.order)}")
        for stop in run.explanations()
    ]
    events += [
        (change.t_ns, f"{change.name} changed from {change.before} to {change.after}")
        for change in run.setting_changes()
    ]
    events += list(_gaps(run.gaps(), sorted(t_ns for t_ns, _ in events)))
    if not events:
        lines.append("No alarms, gaps or marks.")
    events.sort(key=lambda event: event[0])
    lines += [f"{clock(t_ns / 1e9):>8}  {what}" for t_ns, what in events]
    return "\n".join(lines)


def _gaps(gaps: Sequence[GapRow], others_ns: Sequence[int]) -> Iterator[tuple[int, str]]:
    """A line for each gap; many for one reason, with nothing else between them, share one."""

    def place(gap: GapRow) -> tuple[int, str]:
        return bisect_right(others_ns, gap.began_t_ns), gap.reason

    for (_, reason), group in groupby(gaps, place):
        alike = list(group)
        if len(alike) <= MOST_APART:
            for gap in alike:
                lasted_s = _lasted_s(gap)
                lasted = "" if lasted_s is None else f" for {lasted_s:.1f} s"
                yield gap.began_t_ns, f"no answer{lasted}: {reason}"
            continue
        known = [lasted_s for gap in alike if (lasted_s := _lasted_s(gap)) is not None]
        until = clock(alike[-1].began_t_ns / 1e9)
        yield (
            alike[0].began_t_ns,
            f"no answer {len(alike)} times until {until}, {sum(known):.1f} s in all, "
            f"{max(known, default=0.0):.1f} s at most: {reason}",
        )


def _lasted_s(gap: GapRow) -> float | None:
    return None if gap.ended_t_ns is None else (gap.ended_t_ns - gap.began_t_ns) / 1e9
