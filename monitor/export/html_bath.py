"""A bath's ledger and runs in, one HTML page over its life out."""

from monitor.base.moments import utc_text
from monitor.base.program import VERSION
from monitor.baths.bath_view import BathView
from monitor.baths.cautions import OF_A_BATH
from monitor.export.bath_text import entry_line, facts_of_bath, poured_text
from monitor.export.html_chart import index_chart
from monitor.export.html_page import cautions, facts, folded, heading, page, paragraph, table

MOST_ROWS = 24


def bath_report(view: BathView) -> str:
    """The report of one bath.

    Raises
    ------
    ChartsNotThere
        plotly is not installed.
    """
    title = f"Bath {view.bath}"
    groups: dict[str, list[tuple[str, float]]] = {}
    for run in view.runs:
        if run.siemens is not None:
            groups.setdefault(run.set_up.line, []).append(
                (utc_text(run.began_utc_ns)[:19], run.siemens)
            )
    changes = [utc_text(one)[:19] for one in view.state.changes]
    corrected = {one.corrects for one in view.entries}
    entries = [
        (f"{entry_line(one)}{' (corrected)' if one.entry in corrected else ''}",)
        for one in view.entries
    ]
    parts = [
        heading(title, 1),
        facts([(name.capitalize(), value) for name, value in facts_of_bath(view)]),
        heading("Conductance from job to job"),
        index_chart(list(groups.items()), changes) if groups else paragraph("No jobs yet."),
        paragraph(
            "At the start of each job, referred to 25 C where the temperature was known; like is "
            "compared with like only. Dotted: make-up, dilution, replacement.",
            "quiet",
        ),
        heading("Ledger"),
        *_ledger(entries),
        heading("Dilutions"),
        *(paragraph(f"#{one.entry.entry}: {poured_text(one)}") for one in view.poured),
        heading("Cautions"),
        cautions(OF_A_BATH),
        paragraph(f"Reported by bathvigil {VERSION}.", "quiet"),
    ]
    return page(title, parts)


def _ledger(entries: list[tuple[str]]) -> list[str]:
    """The newest entries; on a screen all of them can be unfolded."""
    if not entries:
        return [paragraph("Nothing was written down.")]
    parts = [table(("entry",), entries[-MOST_ROWS:])]
    if len(entries) > MOST_ROWS:
        parts.append(paragraph(f"The last {MOST_ROWS} of {len(entries)}.", "quiet"))
        parts.append(folded(f"All {len(entries)}", table(("entry",), entries)))
    return parts
