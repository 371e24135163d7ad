"""The report of one bath: its state, its conductance from job to job, its ledger.

The words stand in `templates/bath.html` and `bath_text`.
"""

from monitor.base.moments import local_s, zone_names
from monitor.baths.bath_view import BathView
from monitor.baths.cautions import OF_A_BATH
from monitor.export.bath_text import entry_line, facts_of_bath, poured_text
from monitor.export.report_chart import index_chart
from monitor.export.report_page import page

MOST_ROWS = 24
"""Entries of the ledger that are printed: the newest."""


def bath_report(view: BathView) -> str:
    """The report of a bath as an HTML page."""
    groups: dict[str, list[tuple[float, float]]] = {}
    for run in view.runs:
        if run.siemens is not None:
            jobs = groups.setdefault(run.set_up.line, [])
            jobs.append((local_s(run.began_utc_ns), run.siemens))
    corrected = {entry.corrects for entry in view.entries}
    changes_s = [local_s(utc_ns) for utc_ns in view.state.changes]
    return page(
        "bath.html",
        title=f"Bath {view.bath}",
        cautions=OF_A_BATH,
        facts=facts_of_bath(view),
        chart=index_chart(groups.items(), changes_s) if groups else None,
        zone=zone_names(entry.at_utc_ns for entry in view.entries),
        entries=[
            f"{entry_line(entry)}{' (corrected)' if entry.entry in corrected else ''}"
            for entry in view.entries
        ],
        most_rows=MOST_ROWS,
        dilutions=[f"#{dilution.entry.entry}: {poured_text(dilution)}" for dilution in view.poured],
    )
