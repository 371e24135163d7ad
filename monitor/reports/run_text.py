"""A stored run in, its story as plain text out."""

from monitor.reports.moments import local_minute, minutes_text
from monitor.store.reader import StoredRun


def run_text(run: StoredRun) -> str:
    """What was recorded, what happened in order, and what was marked."""
    row, summary = run.row, run.summary()
    facts = row.facts
    bath = f" on {facts.bath}" if facts.bath else ""
    began = local_minute(row.began_utc_ns, row.utc_offset_s)
    lines = [
        f"Run {row.run}: {facts.supply}{bath}, began {began}, lasted "
        f"{minutes_text(summary.seconds)}; {row.ended_why or 'not ended'}",
        f"{summary.samples} samples, {summary.missing} polls without an answer in "
        f"{summary.gaps} gaps; {summary.amp_hours:.3f} Ah with {summary.coverage:.1%} of the "
        f"time covered; limit {facts.limit_amps:g} A ({facts.limit_kind.value})",
    ]
    events = [
        (event.t_ns, f"{event.alarm} {event.change.value}: {event.message}")
        for event in run.alarms()
    ]
    events += [(mark.t_ns, f"mark {mark.number} {mark.text}".rstrip()) for mark in run.marks()]
    events += [(prompt.t_ns, f"{prompt.prompt}: {prompt.message}") for prompt in run.prompts()]
    events += [
        (told.t_ns, f"what happened: {told.why}\n{' ' * 10}in order: {told.order_text}")
        for told in run.explanations()
    ]
    for gap in run.gaps():
        lasted = (
            ""
            if gap.ended_t_ns is None
            else f" for {(gap.ended_t_ns - gap.began_t_ns) / 1e9:.1f} s"
        )
        events.append((gap.began_t_ns, f"no answer{lasted}: {gap.reason}"))
    if not events:
        lines.append("Nothing to report: no alarm, no gap, no mark.")
    events.sort(key=lambda event: event[0])
    lines += [f"{minutes_text(t_ns / 1e9):>8}  {what}" for t_ns, what in events]
    return "\n".join(lines)
