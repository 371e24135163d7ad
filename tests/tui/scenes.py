"""Screens in the middle of their work, for pictures and for keys: made-up runs, no clock, no store.

A scene is a screen and the keys that bring it where it is to be looked at.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from monitor.model.alarm import Priority, State
from monitor.model.card import JobCard, Way
from monitor.model.charge_need import ChargeNeed
from monitor.model.estimate import Forecast, NoForecast
from monitor.model.event import Mark, Prompt, Status
from monitor.model.explanation import Cause, Explanation, Happening
from monitor.model.outcome import Gone, Outcome
from monitor.model.request import Request, RequestKind
from monitor.model.run import RunSummary
from tests.tui import pictures
from tests.tui.bench import overview
from tests.tui.ledgers import StillBaths
from tests.tui.stage import NoBaths, StillClock, StillSource
from tui.archive import Entry, SidesSource
from tui.baths import BathsSource
from tui.card import CardScreen
from tui.compare import CompareScreen
from tui.glyphs import Glyphs
from tui.ledger import LedgerScreen
from tui.live import LiveScreen
from tui.look import RunSource
from tui.moment import Moment
from tui.review import ReviewScreen
from tui.run_list import RunListScreen
from tui.sheet_screen import SheetScreen
from tui.side_by_side import Side
from tui.view import Window

HANDLEBAR = JobCard("north tank", "strip", Way.TANK, "handlebar", 4.5, 0.5, "Ada")
BELL = JobCard("swab pot", "strip", Way.SWAB, "bell", 1.2, None, "Ada")
BRACKET = JobCard("north tank", "clean", Way.TANK, "lamp bracket", 2.0, None, "Bo")

FIRST_STOP = Explanation(
    Cause.SLOW_RISE,
    "from 6.6 A to 10.0 A in 16:32 at the same volts",
    5000,
    1_000_000_000_000,
    (
        Happening(5.0, "output on"),
        Happening(8.0, "6.8 V, 6.6 A"),
        Happening(420.0, "mark 1"),
        Happening(520.0, "no data for 25 s"),
        Happening(838.0, "over 90% of the limit: 9.0 A"),
        Happening(1000.0, "cut out"),
    ),
)
SECOND_STOP = Explanation(
    Cause.SLOW_RISE,
    "the same bath drew 9.6 A again as soon as it was on",
    5900,
    1_180_000_000_000,
    (
        Happening(1000.0, "cut out"),
        Happening(1150.0, "on again after 2:30"),
        Happening(1153.0, "6.8 V, 9.6 A"),
        Happening(1180.0, "cut out"),
    ),
    "second cut-out in 3:00, the rest between them was 2:30: the same bath trips again",
)


def changed(moment: Moment, **changes: object) -> Moment:
    """The moment of a picture with another view."""
    assert moment.view is not None
    return replace(moment, view=replace(moment.view, **changes))  # type: ignore[arg-type]  # fields by name


def twice_cut_out(width: int, glyphs: Glyphs) -> Moment:
    """Cut out for the second time, not yet acknowledged."""
    why = f"the supply cut out after 10.0 A (limit 10 A): {SECOND_STOP.why}"
    tripped = replace(pictures.TRIPPED, occurrence=2, t_ns=SECOND_STOP.t_ns, message=why)
    return changed(
        pictures.cut_out(width, glyphs),
        alarms=(tripped,),
        explanations=(FIRST_STOP, SECOND_STOP),
    )


def reviewed(width: int, glyphs: Glyphs) -> Moment:
    """A run that is over, with all that can be known of it."""
    return changed(
        pictures.review(width, glyphs),
        explanations=(FIRST_STOP, SECOND_STOP),
        card=HANDLEBAR,
        outcome=Outcome(Gone.PATCHES, film_holds=False),
    )


def finishing(width: int, glyphs: Glyphs) -> Moment:
    """The strip looks finished; nothing has been confirmed."""
    message = (
        "the conductance fell by 7% within 84 s and stands still, after 9.46 Ah. "
        "Look at the part; if the chromium is gone, confirm and keep the current on for 15 to 30 s"
    )
    asks = Prompt("strip-looks-finished", 2450, 490_000_000_000, message)
    return changed(pictures.steady(width, glyphs), prompts=(asks,), card=HANDLEBAR)


def holding(width: int, glyphs: Glyphs) -> Moment:
    """Confirmed eight seconds ago."""
    still = finishing(width, glyphs)
    utc_ns = pictures.BEGAN_UTC_NS + 492_100_000_000
    said = Request(
        1, 12, utc_ns, RequestKind.NEXT_STEP, "strip-looks-finished", "screen", utc_ns, "taken"
    )
    return changed(still, requests=(said,))


def shelved(width: int, glyphs: Glyphs) -> Moment:
    """One alarm on the shelf and one that could be."""
    window = pictures.raised(
        "outside-voltage-window", 300.0, Priority.LOW, "12.4 V: the window is 6 to 12 V"
    )
    shelf = replace(window, state=State.SHELVED, t_ns=380_000_000_000)
    dense = pictures.raised(
        "density-high", 440.0, Priority.MEDIUM, "9.1 A/dm2 on the work; the job allows 8.0 A/dm2"
    )
    last = pictures.sample(500.0, 7.2)
    estimate = pictures.estimate(500.0, Forecast(why=NoForecast.NO_RISE), 0.012, 7.2)
    return changed(
        pictures.steady(width, glyphs),
        alarms=(shelf, dense),
        events=(shelf, dense),
        last=last,
        estimate=estimate,
    )


def badged(width: int, glyphs: Glyphs) -> Moment:
    """Parts of the recorder that do not stand well."""
    unheard = Status("sound", 0, "SOUND NOT CHECKED: aplay", None)
    return changed(pictures.steady(width, glyphs), statuses={"sound": unheard})


def entries() -> tuple[Entry, ...]:
    """Five runs, the newest first."""
    jobs = (
        (None, None, None, 724.0, 1.31, 0),
        (
            HANDLEBAR,
            Outcome(Gone.PATCHES, film_holds=False),
            "ended by the operator",
            1220.0,
            2.34,
            2,
        ),
        (BELL, Outcome(Gone.YES, film_holds=True), "ended by the operator", 391.0, 0.084, 0),
        (BRACKET, None, "ended by the operator", 905.0, 1.1, 1),
        (HANDLEBAR, Outcome(Gone.YES, film_holds=True), "ended by the operator", 1502.0, 2.9, 0),
    )
    made = []
    for number, (card, outcome, why, seconds, amp_hours, alarms) in enumerate(jobs):
        run = 14 - number
        began = pictures.BEGAN_UTC_NS - number * 7_260_000_000_000
        facts = replace(pictures.FACTS, bath=card.bath if card else "north tank")
        row = replace(
            pictures.row(None if why is None else seconds, why, facts), run=run, began_utc_ns=began
        )
        summary = RunSummary(run, seconds, int(seconds * 5), 0, 0, amp_hours, 0.998, alarms)
        made.append(Entry(row, summary, card or JobCard(), outcome or Outcome()))
    return tuple(made)


def side(run: int, seconds: float, trips_at_s: float | None, card: JobCard, mark_s: float) -> Side:
    """One run of a comparison, on columns of ten seconds."""
    count = int(seconds // 10)
    chart = pictures.chart(Window(0.0, count * 10.0, count), seconds, trips_at_s)
    summary = RunSummary(run, seconds, int(seconds * 5), 0, 0, seconds / 520.0, 0.998, 0)
    row = replace(pictures.row(seconds, "ended by the operator"), run=run)
    marks = (Mark(1, int(mark_s * 1e9), 0, "swab flushed"),)
    return Side(row, summary, chart.columns, 10.0, marks, card)


@dataclass
class StillArchive:
    """Shows these runs; opens pictures in their place."""

    runs: tuple[Entry, ...]
    review: StillSource

    def look(self, window: Window | None) -> tuple[Entry, ...]:
        return self.runs

    def source(self, run: int) -> RunSource:
        return self.review

    def ledger(self, bath: str) -> BathsSource:
        return NoBaths(bath)

    def beside(self, runs: tuple[int, ...]) -> SidesSource:
        return StillSides(three_sides()[: len(runs)])

    def close(self) -> None:
        return None


@dataclass
class StillSides:
    """Shows these sides."""

    sides: tuple[Side, ...]

    def look(self, window: Window | None) -> tuple[Side, ...]:
        return self.sides

    def close(self) -> None:
        return None


def three_sides() -> tuple[Side, ...]:
    return (
        side(13, 1220.0, 1000.0, HANDLEBAR, 420.0),
        side(12, 900.0, None, BRACKET, 200.0),
        side(10, 1500.0, 1400.0, HANDLEBAR, 600.0),
    )


def live_screen(moment: Moment) -> tuple[LiveScreen, StillSource]:
    assert moment.view is not None
    source = StillSource(moment.view)
    clock = StillClock(moment.now_s)
    return LiveScreen(source, clock, pictures.BOOT, moment.glyphs), source


def _live(make: Callable[[int, Glyphs], Moment]) -> Callable[[int, Glyphs], SheetScreen]:
    return lambda width, glyphs: live_screen(make(width, glyphs))[0]


def review_screen(width: int, glyphs: Glyphs) -> ReviewScreen:
    moment = reviewed(width, glyphs)
    assert moment.view is not None
    clock = StillClock(moment.now_s)
    return ReviewScreen(StillSource(moment.view), clock, pictures.BOOT, glyphs)


def card_screen(width: int, glyphs: Glyphs) -> CardScreen:
    view = pictures.starting(width, glyphs).view
    assert view is not None
    unheard = {"sound": Status("sound", 0, "SOUND NOT CHECKED: aplay", None)}
    source = StillSource(replace(view, card_before=HANDLEBAR, statuses=unheard))
    return CardScreen(source, StillClock(8.1), glyphs)


def run_list(width: int, glyphs: Glyphs) -> RunListScreen:
    moment = reviewed(width, glyphs)
    assert moment.view is not None
    archive = StillArchive(entries(), StillSource(moment.view))
    return RunListScreen(archive, StillClock(moment.now_s), pictures.BOOT, glyphs)


def compare(_: int, glyphs: Glyphs) -> CompareScreen:
    return CompareScreen(StillSides(three_sides()), StillClock(1220.0), glyphs)


def supplies(_: int, glyphs: Glyphs) -> SheetScreen:
    return overview(glyphs=glyphs)[0]


def stripping(width: int, glyphs: Glyphs) -> Moment:
    """A part of known area and chromium, in a bath whose finished runs are known."""
    need = ChargeNeed(0.375, 1.94, 1.73, 2.19)
    return changed(pictures.steady(width, glyphs), need=need, card=HANDLEBAR)


def ledger_screen(width: int, glyphs: Glyphs) -> LedgerScreen:
    return LedgerScreen(StillBaths(), StillClock(10.0), glyphs)


SCENES: dict[str, tuple[Callable[[int, Glyphs], SheetScreen], tuple[str, ...]]] = {
    "overview": (supplies, ()),
    "card": (card_screen, ()),
    "card-filled": (card_screen, ("enter", "up", "up", "up", "up")),
    "runs": (run_list, ("down", "space", "down", "down", "space")),
    "runs-find": (run_list, ("f", *"north")),
    "compare": (compare, ("a",)),
    "note": (_live(pictures.rising), ("n", *"tip flushed")),
    "shelving": (_live(shelved), ("s",)),
    "shelved": (_live(shelved), ()),
    "ending": (_live(pictures.steady), ("e",)),
    "help": (_live(pictures.rising), ("?",)),
    "finishing": (_live(finishing), ()),
    "holding": (_live(holding), ()),
    "stopped": (_live(pictures.stopped), ()),
    "limited": (_live(pictures.limited), ()),
    "starting": (_live(pictures.starting), ()),
    "badged": (_live(badged), ()),
    "cut-out-twice": (_live(twice_cut_out), ()),
    "story": (review_screen, ("x",)),
    "review-text": (review_screen, ("home", "down", "t", *"flushed")),
    "review-help": (review_screen, ("?",)),
    "wetting": (review_screen, ("w",)),
    "stripping": (_live(stripping), ()),
    "ledger": (ledger_screen, ()),
    "ledger-entries": (ledger_screen, ("pagedown", "pagedown")),
}
