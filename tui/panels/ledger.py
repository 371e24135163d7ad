"""One bath's page of the ledger as rows: how it stands, what to do, its jobs, its entries."""

from drivers.base.inert import inert
from monitor.base.moments import local_minute
from monitor.baths.bath_view import BathView
from monitor.baths.cautions import OF_A_BATH
from monitor.baths.job_run import JobRun
from monitor.export.bath_text import entry_line, facts_of_bath
from monitor.model.advice import Remedy
from tui.baths import BathPage
from tui.ink import Ink, Line, fit, fit_all, wrapped
from tui.keys import LEDGER_KEYS
from tui.moment import Moment
from tui.panels.help import draw_help, keys_row

LONGEST, LONGEST_FACT = 300, 1000
"""Characters of what somebody typed, and of what the program says: advice is never cut."""
NAME_WIDTH = 15
BAR, WIDE = 20, 100
"""Characters of the bar that stands for a supply's limit, half as many on a narrower screen."""
WEIGHTY = ("jobs left", "to do")
MOST_JOBS = 40


def draw_ledger(page: BathPage, first: int, whole: Moment, width: int, height: int) -> list[Line]:
    """The page, exactly `height` lines of `width` columns.

    Parameters
    ----------
    first
        Rows that are scrolled out of sight above.
    """
    lines: list[Line] = [fit(((whole.glyphs.text(_head(page, whole)), Ink.BAND),), width, Ink.BAND)]
    room = max(height - 2, 0)
    if whole.help_is_open:
        lines += draw_help(LEDGER_KEYS, whole, width, room)
    else:
        lines += ledger_rows(page, whole, width)[first : first + room]
    lines = fit_all(lines, width, max(height - 1, 0))
    return fit_all([*lines, keys_row(LEDGER_KEYS, whole, width)], width, height)


def ledger_rows(page: BathPage, whole: Moment, width: int) -> list[Line]:
    """All rows of a page, however many."""
    view = page.view
    if view is None:
        begin = "There is no bath yet; the ledger begins with: bathvigil bath make-up"
        return [((" ", Ink.PLAIN), *row) for row in wrapped(begin, width - 2)]
    lines: list[Line] = []
    told = sorted(facts_of_bath(view), key=lambda fact: fact[0] not in WEIGHTY)
    for name, value in told:
        text = whole.glyphs.text(inert(value, LONGEST_FACT))
        ink = Ink.STRONG if name in WEIGHTY else Ink.PLAIN
        rows = wrapped(text, max(width - NAME_WIDTH - 2, 10), _ink(name, view, ink))
        for at, row in enumerate(rows):
            title = whole.glyphs.text(inert(name, NAME_WIDTH)) if at == 0 else ""
            lines.append(((f" {title:<{NAME_WIDTH}} ", Ink.PLAIN), *row))
    title = f" Jobs, the newest first ({len(view.runs)}): conductance, peak against the limit"
    bar = BAR if width >= WIDE else BAR // 2
    lines += [(), ((title, Ink.STRONG),)]
    lines += [
        ((whole.glyphs.text(f" {job_row(one, bar)}"), Ink.PLAIN),)
        for one in reversed(view.runs[-MOST_JOBS:])
    ]
    lines += [(), ((f" Entries, newest first, local time ({len(view.entries)})", Ink.STRONG),)]
    corrected = {one.corrects for one in view.entries}
    for entry in sorted(view.entries, key=lambda one: (one.at_utc_ns, one.entry or 0))[::-1]:
        gone = " (corrected)" if entry.entry in corrected else ""
        text = whole.glyphs.text(inert(f"{entry_line(entry)}{gone}", LONGEST))
        lines += [((" ", Ink.PLAIN), *row) for row in wrapped(text, width - 2, hang="  ")]
    lines.append(())
    lines += [((" ", Ink.PLAIN), *row) for row in wrapped(" ".join(OF_A_BATH), width - 2)]
    return lines


def job_row(one: JobRun, bar: int) -> str:
    """A job in one row: when, what, its conductance, and how near its peak came to the limit."""
    day = local_minute(one.began_utc_ns)[:10]
    siemens = "" if one.siemens is None else f"{one.siemens:.2f} S"
    gone = {True: "chromium gone", False: "chromium left", None: ""}[one.is_finished]
    row = f"{one.run:>4}  {day}  {siemens:>7}  {bar_of(one, bar)}  {one.amp_hours:5.2f} Ah  "
    return f"{row}{inert(one.set_up.line, 60)}  {gone}".rstrip()


def bar_of(one: JobRun, width: int = BAR) -> str:
    """The peak against the supply's limit, drawn in characters that every terminal has."""
    if one.peak_amps is None:
        return f"{'peak not known':<{width + 15}}"
    filled = min(round(one.peak_amps / one.limit_amps * width), width)
    bar = f"[{'#' * filled}{'.' * (width - filled)}]"
    return f"{bar} {one.peak_amps:5.2f} of {one.limit_amps:3.0f}"


def _head(page: BathPage, whole: Moment) -> str:
    if whole.trouble:
        return f" NO VIEW: {inert(whole.trouble, LONGEST)}"
    if page.view is None:
        return " LEDGER"
    many = f"   bath {page.at + 1} of {len(page.names)}" if len(page.names) > 1 else ""
    return f" LEDGER  {inert(page.view.bath)}{many}"


def _ink(name: str, view: BathView, ink: Ink) -> Ink:
    """What asks for a deed stands out; the rest is grey."""
    if name == "jobs left" and view.prospect.jobs_left == 0.0:
        return Ink.MEDIUM
    told = view.advice
    supply = name.removesuffix(" leads")
    if supply in view.contacts and view.contacts[supply].wants_cleaning(view.usual_amps(supply)):
        return Ink.MEDIUM
    if name == "to do" and told is not None and told.remedy is not Remedy.NOTHING:
        return Ink.MEDIUM
    if name == "in series" and any(one.wants_a_look for one in view.series):
        return Ink.MEDIUM
    return ink
