"""Pages of an invented ledger, made without a store."""

from dataclasses import dataclass, field, replace

from monitor.base.errors import StoreError
from monitor.baths.bath_view import BathView, make_view
from monitor.baths.charge_need import Efficiency
from monitor.baths.job_run import JobRun, SetUp
from monitor.baths.ledger import Looks
from monitor.baths.poured import After, Poured
from monitor.model.entry import Entry, Kind
from monitor.model.leads import Leads
from tui.baths import BathPage
from tui.view import Window

DAY_NS = 86_400_000_000_000
BEGAN_NS = 1_780_000_000_000_000_000
BELL = SetUp("bench-1", "tank", "bell", True)
NAMES = ("north tank", "swab pot")
GROWTH = 1.02


def a_job(number: int, bath: str) -> JobRun:
    siemens = 1.45 * GROWTH**number
    return JobRun(
        number, BEGAN_NS + number * DAY_NS, bath, BELL, 10.0, siemens, siemens * 4.4, 6.0, 1.8,
        21.0, 0.43, 1.0, 1.6, 0.3, number % 7 != 0, Leads(10.0, 4.0).ohms(),
    )  # fmt: skip


def a_view(bath: str, jobs: int) -> BathView:
    """A tank after so many jobs, thinned once."""
    made = Entry(
        bath, Kind.MAKE_UP, BEGAN_NS, 9.0, None, 70.0, "caustic", by="Ada", entry=1
    )  # fmt: skip
    looks = [
        Entry(bath, Kind.LEADS, BEGAN_NS + at * DAY_NS, supply="bench-1", ohms=ohms, by="Ben",
              entry=2 + number)
        for number, (at, ohms) in enumerate(((0, 0.0171), (9, 0.0214)))
    ]  # fmt: skip
    water = Entry(
        bath, Kind.DILUTION, BEGAN_NS - DAY_NS, 1.2, supply="bench-1", volts=6.0, amps_before=7.47,
        amps_aimed=6.7, by="Ada", entry=4,
    )  # fmt: skip
    runs = [a_job(number, bath) for number in range(1, jobs + 1)]
    poured = [Poured(water, 0.88, 0.895, 6.7, After(6.83, "the next 5 min of run 12"))]
    view = make_view(bath, [made, *looks], Looks(tuple(looks)), runs, poured)
    return replace(
        view,
        entries=(*view.entries, water),
        efficiency=Efficiency(0.193, 0.171, 0.217, jobs),
        amp_hours_since=0.43 * jobs,
        chromium_grams_since=0.0345 * jobs,
        caustic_grams_since=0.053 * jobs,
    )


@dataclass
class StillBaths:
    """Shows the pages of two baths; keeps which were asked for."""

    bath: str = "north tank"
    trouble: str = ""
    asked: list[str] = field(default_factory=list)
    pages: dict[str, BathPage] = field(default_factory=dict)

    def look(self, window: Window | None) -> BathPage:
        if self.trouble:
            raise StoreError(self.trouble)
        if self.bath not in self.pages:
            jobs = 16 if self.bath == "north tank" else 3
            at = NAMES.index(self.bath)
            self.pages[self.bath] = BathPage(NAMES, at, a_view(self.bath, jobs))
        return self.pages[self.bath]

    def choose(self, bath: str) -> None:
        self.asked.append(bath)
        self.bath = bath

    def close(self) -> None:
        """Nothing is open."""
