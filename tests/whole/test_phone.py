"""The page for phones: in a real browser, against a real recorder, and against strangers."""

import http.client
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from importlib.resources import files
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from monitor.base.errors import StoreError
from monitor.recorder.lock import holder
from monitor.store.reader import open_store
from tests.servers.ports import free_port
from tests.tui import pictures
from tests.tui.scenes import changed
from tests.whole.browser import Page, browser
from tests.whole.phone_stage import PHONE, READY, SCENES, TABLET, Stage, stage
from tests.whole.processes import PATIENCE_S, bathvigil, simulator, start, wait_until
from tests.whole.test_screen_browser import address_of
from tests.whole.tools import needs_chromium
from tui.phone.bulletin import bulletin, chart_of
from tui.phone.door import Door
from tui.phone.lan import is_near
from tui.phone.server import FILES
from tui.phone.watcher import as_bytes

MOST_BYTES = 60_000
HOSTILE = "<script>document.title='taken'</script><img src=x onerror=alert(1)>"


def shown(page: Page, name: str) -> str:
    """The text of an element of the page."""
    return str(page.value(f"document.getElementById('{name}').textContent"))


@contextmanager
def opened(stand: Stage, size: tuple[int, int] = PHONE) -> Iterator[Page]:
    """A browser of this size that has opened the printed address and heard news."""
    with browser("about:blank") as page:
        page.look_as(*size)
        page.ask("Page.navigate", url=stand.url)
        wait_until("the page", lambda: page.value(READY))
        yield page


def ask(port: int, method: str, path: str, **headers: str) -> http.client.HTTPResponse:
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    line.request(method, path, headers={"Host": f"127.0.0.1:{port}", **headers})
    answer = line.getresponse()
    if not answer.getheader("content-type", "").startswith("text/event-stream"):
        answer.read()
        line.close()
    return answer


def cookie_of(stand: Stage) -> str:
    answer = ask(stand.port, "GET", urlsplit(stand.url).path)
    assert answer.status == 303
    assert answer.getheader("location") == "/"
    cookie = str(answer.getheader("set-cookie"))
    assert "HttpOnly" in cookie
    return cookie.partition(";")[0]


def test_the_whole_page_is_small() -> None:
    own = sum(len((files("tui.phone") / name).read_bytes()) for name, _ in FILES.values())
    moment = pictures.rising(160)
    told = as_bytes(bulletin([(1, moment)], "11:18:24", "")) + as_bytes(chart_of(moment))
    assert own + len(told) < MOST_BYTES


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
def test_no_request_can_change_anything(method: str) -> None:
    with stage() as stand:
        assert ask(stand.port, method, "/", Cookie=cookie_of(stand)).status == 405


def test_a_stranger_gets_nothing() -> None:
    with stage() as stand:
        cookie, port = cookie_of(stand), stand.port
        assert ask(port, "GET", "/").status == 403
        assert ask(port, "GET", "/events").status == 403
        assert ask(port, "GET", "/t/wrong").status == 403
        assert ask(port, "GET", "/t/%ff%c3%28").status == 403
        foreign = {"Host": "stranger.example", "Cookie": cookie}
        assert ask(port, "GET", "/", **foreign).status == 403
        assert ask(port, "GET", "/", **foreign | {"Host": f"a.b:{port}"}).status == 403
        assert ask(port, "GET", "/", Cookie=cookie.replace("=", "=x")).status == 403
        answer = ask(port, "GET", "/", Cookie=cookie)
        assert answer.status == 200
        assert "default-src 'none'" in str(answer.getheader("content-security-policy"))
        assert answer.getheader("referrer-policy") == "no-referrer"


def test_the_internet_is_no_network_of_the_shop() -> None:
    # 93.184.216.34 is a public address (RFC 6890 lists the others); 10/8 is private (RFC 1918).
    assert not is_near("93.184.216.34")
    assert not is_near("::ffff:93.184.216.34")
    assert is_near("::ffff:10.1.2.3")
    door = Door(8138)
    assert door.refusal("GET", "127.0.0.1:8138", "93.184.216.34") is not None
    assert door.refusal("GET", "[fd00::7]:8138", "fd00::8") is None
    assert door.address("fd00::7").startswith("http://[fd00::7]:8138/t/")


@contextmanager
def mute_phone(stand: Stage, cookie: str) -> Iterator[None]:
    """A phone that asks for the news and then reads nothing."""
    with socket.socket() as line:
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        line.connect(("127.0.0.1", stand.port))
        host = f"127.0.0.1:{stand.port}"
        asked = f"GET /events HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n"
        line.sendall(asked.encode())
        wait_until("the phone", lambda: stand.board.clients == 1)
        yield


def test_one_phone_too_many_is_told_so() -> None:
    with stage(most_clients=1) as stand:
        cookie = cookie_of(stand)
        with mute_phone(stand, cookie):
            assert ask(stand.port, "GET", "/events", Cookie=cookie).status == 503


def test_a_phone_that_reads_nothing_is_cut_off(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tui.phone.server.SLOW_S", 0.2)
    with stage() as stand, mute_phone(stand, cookie_of(stand)):

        def is_gone() -> bool:
            stand.show(SCENES["several"])
            return stand.board.clients == 0

        wait_until("the end of its stream", is_gone)


@needs_chromium
def test_an_alarm_fills_the_screen_until_the_figures_are_wanted() -> None:
    with stage() as stand:
        stand.show(SCENES["steady"])
        with opened(stand) as page:
            assert shown(page, "word") == "STEADY"
            assert page.value("document.getElementById('fill').hidden") is True
            stand.show(SCENES["cut-out"])
            filled = "!document.getElementById('fill').hidden"
            wait_until("the alarm", lambda: page.value(filled))
            assert shown(page, "fillword") == "CUT OUT"
            assert shown(page, "fillact") == "Output OFF"
            page.value("document.getElementById('figures').click()")
            assert page.value(filled) is False
            stand.show(SCENES["cut-out"])
            wait_until("more news", lambda: page.value("state.t") == 1.5)
            assert page.value(filled) is False, "it was seen"
            assert "0.00" in shown(page, "cells")
            assert page.value("document.querySelectorAll('#chart .trace').length") == 1


@needs_chromium
def test_a_tap_on_a_supply_opens_it_and_back_leads_to_all() -> None:
    with stage() as stand:
        stand.show(SCENES["several"])
        with opened(stand) as page:
            page.value("document.getElementById('figures').click()")
            page.value("document.getElementById('figures').click()")
            words = page.value(
                "[...document.querySelectorAll('.card .word')].map(n => n.textContent)"
            )
            assert words == ["CUT OUT", "RISING", "STEADY", "STARTING"]
            page.value("document.querySelectorAll('.card')[2].click()")
            wait_until("its chart", lambda: page.value("chart !== null && chart.run") == 11)
            assert shown(page, "word") == "STEADY"
            page.value("document.getElementById('back').click()")
            assert page.value("document.getElementById('one').hidden") is True


@needs_chromium
@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_nothing_is_wider_than_the_screen(size: tuple[int, int]) -> None:
    with stage() as stand:
        stand.show(SCENES["steady"])
        with opened(stand, size) as page:
            for number, scene in enumerate(SCENES, 2):
                stand.show(SCENES[scene])
                told = f"state.t == {number / 2}"
                wait_until(scene, partial(page.value, told))
                assert page.value("document.documentElement.scrollWidth") == size[0], scene
                wider = "[...document.querySelectorAll('.figure, h1, h2, .word')]"
                wider += ".filter(n => n.scrollWidth > n.clientWidth + 1 && n.offsetParent)"
                assert page.value(f"{wider}.map(n => n.textContent)") == [], scene


@needs_chromium
def test_a_strangers_text_is_shown_as_text() -> None:
    moment = SCENES["rising"][0]
    assert moment.view is not None
    facts = replace(moment.view.row.facts, supply=HOSTILE, bath=HOSTILE)
    alarms = tuple(replace(event, message=HOSTILE) for event in moment.view.alarms)
    hostile = changed(moment, row=replace(moment.view.row, facts=facts), alarms=alarms)
    with stage() as stand:
        stand.show([hostile])
        with opened(stand) as page:
            assert HOSTILE in shown(page, "title")
            assert "<script>" in shown(page, "alarms")
            assert page.value("document.querySelectorAll('main script, img').length") == 0
            assert page.value("document.title") != "taken"


@needs_chromium
def test_a_server_that_is_gone_makes_every_figure_unknown() -> None:
    with stage() as stand:
        stand.show(SCENES["rising"])
        with opened(stand) as page:
            assert "9." in shown(page, "cells")
            stand.stop()
            wait_until("STALE", lambda: shown(page, "word") == "STALE")
            figures = "[...document.querySelectorAll('.cell .figure')].map(n => n.textContent[0])"
            assert page.value(figures) == ["?"] * 4
            assert "last 9." in shown(page, "cells")
            assert shown(page, "news").startswith("STALE")


@needs_chromium
def test_a_phone_follows_a_recorder_to_its_end_and_on(tmp_path: Path) -> None:
    store = tmp_path / "bathvigil.db"
    with simulator("quiet-strip", "scpi-tcp", 1.0) as (address, _):
        line = ("record", address, "--limit-amps", "10", "--store", store)
        recorder = start(*line)
        wait_until("a row", lambda: _has_rows(store))
        served = start("page", "--store", store, "--port", str(free_port()))
        try:
            url = address_of(served)
            with browser("about:blank") as page:
                page.ask("Page.navigate", url=url)
                wait_until("the page", lambda: page.value(READY))
                wait_until("amps", lambda: page.value("+state.supplies[0].cells[0].figure") or None)
                recorder.kill()
                wait_until("STALE", lambda: shown(page, "news") == "STALE")
                assert shown(page, "word") == "RECORDER STOPPED"
                assert page.value("state.supplies[0].cells[0].figure") == "?"
                recorder.communicate(timeout=PATIENCE_S)
                recorder = start(*line)
                wait_until("amps again", lambda: shown(page, "news").startswith("\u25cf"))
        finally:
            served.terminate()
            served.communicate(timeout=PATIENCE_S)
            recorder.terminate()
            recorder.communicate(timeout=PATIENCE_S)
    assert holder(store) is None


def test_without_a_store_it_says_so_in_one_line(tmp_path: Path) -> None:
    done = bathvigil("page", "--store", str(tmp_path / "none.db"))
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1
    assert "none.db" in done.stderr


def _has_rows(store: Path) -> bool:
    try:
        with open_store(store) as recorded:
            return recorded.run(recorded.runs()[-1].run).last() is not None
    except (StoreError, IndexError):
        return False  # the recorder has only begun
