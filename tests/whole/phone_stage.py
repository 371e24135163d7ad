"""The page's real server with pictures of made-up runs instead of a store."""

import asyncio
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory

from monitor.model.alarm import Priority
from tests.tui import pictures
from tests.tui.bench import NOW_S, four_supplies
from tests.tui.scenes import finishing, stripping
from tests.whole.browser import browser
from tests.whole.processes import wait_until
from tui.glyphs import BRAILLE
from tui.moment import Moment
from tui.phone.bulletin import bulletin, chart_of, run_of, worst_first
from tui.phone.door import Door
from tui.phone.server import MOST_CLIENTS, Board, listen, page_app, server_of
from tui.phone.watcher import News, as_bytes

WIDE = 160
PHONE, TABLET = (390, 844), (1024, 768)


def short_circuit() -> Moment:
    """Metal on metal, half a minute ago."""
    still = pictures.steady(WIDE)
    assert still.view is not None
    message = "0.41 V at 9.9 A: a short circuit"
    event = pictures.raised("short", 470.0, Priority.CRITICAL, message)
    last = replace(pictures.sample(500.0, 9.9), volts=0.41)
    view = replace(still.view, alarms=(event,), events=(event,), last=last, last_sample=last)
    return replace(still, view=view)


def several() -> list[Moment]:
    """Four supplies in four states."""
    alone = (pictures.steady(WIDE), pictures.rising(WIDE), pictures.cut_out(WIDE))
    moments = []
    for view, moment in zip(four_supplies(), (*alone, pictures.starting(WIDE)), strict=True):
        assert moment.view is not None
        chart, by_s = moment.view.chart, NOW_S - moment.now_s
        window = replace(
            chart.window, from_s=chart.window.from_s + by_s, to_s=chart.window.to_s + by_s
        )
        moments.append(Moment(replace(view, chart=replace(chart, window=window)), NOW_S))
    return moments


SCENES: dict[str, list[Moment]] = {
    "steady": [stripping(WIDE, BRAILLE)],
    "rising": [pictures.rising(WIDE)],
    "cut-out": [pictures.cut_out(WIDE)],
    "short": [short_circuit()],
    "no-data": [pictures.no_data(WIDE)],
    "done": [finishing(WIDE, BRAILLE)],
    "starting": [pictures.starting(WIDE)],
    "several": several(),
}


def news_of(moments: Sequence[Moment], count: int, t_s: float) -> News:
    """The news of these moments."""
    ordered = worst_first([(index + 1, moment) for index, moment in enumerate(moments)])
    facts = bulletin(ordered, pictures.LOCAL_TIME, "") | {"t": t_s}
    charts = {run_of(moment): as_bytes(chart_of(moment)) for moment in moments}
    return News(count, as_bytes(facts), 1, charts, run_of(ordered[0][1]))


class Stage:
    """A page that shows what it is given."""

    def __init__(self, most_clients: int) -> None:
        self._listening = listen(lan=False, port=0)
        self.port = self._listening.getsockname()[1]
        self.door = Door(self.port)
        self.board = Board()
        self._server = server_of(page_app(self.door, self.board, most_clients))
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._count = 0

    def _run(self) -> None:
        self.loop.run_until_complete(self._server.serve(sockets=[self._listening]))
        self.loop.close()

    @property
    def url(self) -> str:
        """The address that would be printed."""
        return self.door.address("127.0.0.1")

    def show(self, moments: Sequence[Moment]) -> None:
        """Tell all pages."""
        self._count += 1
        news = news_of(moments, self._count, self._count / 2.0)
        self.loop.call_soon_threadsafe(self.board.pin, news)

    def start(self) -> None:
        """Serve, in a thread of its own."""
        self._thread.start()
        wait_until("the server", lambda: self._server.started)

    def stop(self) -> None:
        """End the server."""
        self._server.should_exit = True
        self._thread.join(10.0)


@contextmanager
def stage(most_clients: int = MOST_CLIENTS) -> Iterator[Stage]:
    """A page on loopback while the context lasts."""
    made = Stage(most_clients)
    made.start()
    try:
        yield made
    finally:
        made.stop()


READY = (
    "typeof heard == 'object' && heard !== null && "
    "(document.getElementById('one').hidden || chart !== null)"
)


EVERY = [
    (scene, kind, scheme)
    for scene in SCENES
    for kind in ("phone", "tablet")
    for scheme in ("light", "dark")
]
IN_DOCS = (
    "steady-phone-dark",
    "rising-phone-light",
    "cut-out-phone-dark-alarm",
    "no-data-phone-light",
    "several-tablet-light",
)


def draw(folder: Path, wanted: Sequence[tuple[str, str, str]]) -> None:
    """Take pictures, with all alarms closed, and of an alarm that fills the screen."""
    folder.mkdir(parents=True, exist_ok=True)
    for scene, kind, scheme in wanted:
        with stage() as shown, browser("about:blank") as page:
            shown.show(SCENES[scene])
            page.look_as(*(PHONE if kind == "phone" else TABLET), scheme)
            page.ask("Page.navigate", url=shown.url)
            wait_until("the page", partial(page.value, READY))
            place = folder / f"{scene}-{kind}-{scheme}.png"
            if page.value("!document.getElementById('fill').hidden"):
                place.with_stem(f"{place.stem}-alarm").write_bytes(page.picture())
            while page.value("!document.getElementById('fill').hidden"):
                page.value("document.getElementById('figures').click()")
            page.value("drawChart()")
            place.write_bytes(page.picture())


def draw_for_docs(folder: Path) -> None:
    """Only those that the guide shows."""
    with TemporaryDirectory() as drawn:
        draw(Path(drawn), [parts for parts in EVERY if any("-".join(parts) in n for n in IN_DOCS)])
        for name in IN_DOCS:
            copyfile(Path(drawn) / f"{name}.png", folder / f"{name}.png")


if __name__ == "__main__":
    if "--docs" in sys.argv:
        draw_for_docs(Path(sys.argv[1]))
    else:
        draw(Path(sys.argv[1]), EVERY)
