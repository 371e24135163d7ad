"""Reports are one file that opens offline, and take no text of a stranger for code."""

import re
import subprocess
import sys
from html import escape
from pathlib import Path

import pytest

from monitor.commands.main import run
from monitor.export.html_chart import MOST_TOLD
from monitor.export.html_events import Event, events_of
from monitor.export.html_report import run_report
from monitor.model.alarm import Priority
from monitor.model.card import JobCard, Way
from monitor.model.entry import Entry, Kind
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.event import Mark, Prompt, SettingChange
from monitor.model.outcome import Outcome
from monitor.model.sample import Quality
from monitor.store.bath_rows import BathBook
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import HandClock, a_gap, a_run, a_sample, a_store, an_event

EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(2)>"


def filled(path: Path, part: str = "bell") -> Path:
    clock = HandClock()
    with a_store(path, clock) as writer:
        number = a_run(writer, clock)
        for seq in range(300):
            if 100 <= seq < 140:
                writer.write([(number, a_gap(seq))])
                continue
            sample = a_sample(seq, amps=5.0 + seq / 100.0)
            writer.write([(number, sample), (number, estimate(seq))])
        writer.write([(number, an_event(200)), (number, an_event(250, alarm="tripped"))])
        writer.write([(number, Mark(1, 30_000_000_000, clock.utc_ns(), part))])
        clock.pass_s(60.0)
        writer.end_run(number, 60_000_000_000, "ended by the operator")
    JobBox(path).put_card(1, JobCard("north tank", "strip", Way.TANK, part, 1.6, 0.3, "Ada"))
    JobBox(path).put_outcome(1, Outcome(True))
    return path


def estimate(seq: int) -> Estimate:
    charge = Charge(0.5, 0.45, 0.6, 0.87)
    return Estimate(
        seq,
        seq * 200_000_000,
        Forecast(why=NoForecast.NO_RISE),
        charge,
        siemens=1.3,
        siemens_at_start=1.1,
        amps_expected=6.0,
        siemens_at_25=1.2,
        celsius=24.0,
    )


def report(path: Path, to: Path, *more: str) -> str:
    assert run(["report", *(more or ("1",)), "--to", str(to), "--store", str(path)]) == 0
    return to.read_text(encoding="utf-8")


def test_a_report_tells_what_was_done_and_how_it_went(tmp_path: Path) -> None:
    html = report(filled(tmp_path / "a.db"), tmp_path / "r.html")
    for told in (
        "strip bell in the north tank",
        "Wetted",
        "between 0.450 and 0.600 Ah",
        "lower bound",
        "0.107 Ah at the very least",
        "no answer, 8.0 s",
        "Why it cut out",
        "trip-expected raised",
        "cuts out at 10 A",
        "29 CFR 1910.1026, 2006",
        "D007",
        "licensed or qualified practice",
    ):
        assert told in html, told


def test_a_report_loads_nothing_from_anywhere(tmp_path: Path) -> None:
    html = report(filled(tmp_path / "a.db"), tmp_path / "r.html")
    assert "default-src 'none'" in html.replace("&#x27;", "'")
    assert not re.search(r"<(?:script|link|img|iframe)[^>]+(?:src|href)\s*=", html)
    assert "Plotly.newPlot" in html


def test_a_strangers_text_is_shown_and_never_run(tmp_path: Path) -> None:
    html = report(filled(tmp_path / "a.db", EVIL), tmp_path / "r.html")
    assert EVIL not in html
    assert "<script>alert" not in html
    assert escape(EVIL) in html


def test_gaps_are_holes_in_the_chart_and_no_line_goes_across(tmp_path: Path) -> None:
    html = report(filled(tmp_path / "a.db"), tmp_path / "r.html")
    assert '"type":"rect"' in html
    assert "null" in html


def test_a_baths_report_tells_its_life(tmp_path: Path) -> None:
    path = filled(tmp_path / "a.db")
    BathBook(path).add(Entry("north tank", Kind.MAKE_UP, 1, litres=9.0, text=EVIL))
    html = report(path, tmp_path / "b.html", "--bath", "north tank")
    assert "make-up of 9 L" in html
    assert "Jobs left" in html
    assert "<script>alert" not in html


def test_the_printed_table_keeps_the_most_important_and_the_screen_unfolds_all(
    tmp_path: Path,
) -> None:
    path = filled(tmp_path / "a.db")
    with a_store(path) as writer:
        for at in range(60):
            event = an_event(at, alarm="density-high", priority=Priority.MEDIUM, occurrence=at + 1)
            writer.write([(1, event)])
    html = report(path, tmp_path / "r.html")
    printed, _, unfolded = html.partition("<details")
    unfolded = unfolded.partition("</details>")[0]
    assert unfolded.count("<tr>") == 1 + len(events(path))
    assert unfolded.count("density-high raised") == 60
    # A cut-out late in the run stands above sixty lesser alarms before it.
    assert "tripped raised" in printed
    assert printed.count('<td class="num">') == 14
    assert f"The most important 14 of {len(events(path))}." in html
    assert ".screen, .modebar { display: none !important; }" in html


def test_what_is_too_long_for_paper_is_cut_there_and_whole_behind_a_fold(tmp_path: Path) -> None:
    path, words = filled(tmp_path / "a.db"), "the clip was hot; " * 40
    with a_store(path) as writer:
        for at in range(5):
            change = SettingChange(at * 10**9, 1, f"fittings.window.volts_{at}", words, "null")
            writer.write([(1, change), (1, Prompt("hold-done", at, at * 10**9, words))])
    html = report(path, tmp_path / "r.html")
    shown = re.sub(r"<details.*?</details>", "", html, flags=re.DOTALL)
    assert words not in shown
    assert shown.count("the clip was hot") > 50
    assert words in html
    assert "window volts 4 from" in shown
    assert "window volts 0 from" not in shown
    assert "All changes (5)" in html


def events(path: Path) -> list[Event]:
    with open_store(path) as store:
        return events_of(store.run(1))


def test_a_report_shows_the_customers_reference_and_the_steps_windows(tmp_path: Path) -> None:
    path = filled(tmp_path / "a.db")
    card = JobCard("north tank", "strip", Way.TANK, "bell", 1.6, 0.3, "Ada", "order 112")
    JobBox(path).put_card(1, card)
    html = report(path, tmp_path / "r.html")
    assert re.search(r"reference</th><td>order 112", html)
    # 6 to 12 V for a strip: common practice, no source.
    assert "Step strip: 6 to 12 V." in html
    assert "Worked at" in html
    assert "The end of the strip" in html
    assert "must not break within one minute" in html
    assert "hold on 15 to 30 s" in html
    assert "never dip straight from the strip into acid" in html


def test_an_unfinished_run_has_a_report_too(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with StoreWriter(path, clock=HandClock()) as writer:
        number = a_run(writer)
        writer.write([(number, a_sample(0, quality=Quality.SUSPECT))])
        assert "Not ended yet" in report(path, tmp_path / "r.html")


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        (["7", "--to", "r.html"], 1, "holds no run 7"),
        (["1", "--to", "r.doc"], 2, ".html or .pdf"),
        (["--to", "r.html"], 2, "--bath NAME"),
        (["--bath", "kettle", "--to", "r.html"], 2, "there is no bath 'kettle'"),
        (["1", "--to", "no/such/place/r.html"], 1, "cannot be written"),
    ],
)
def test_what_cannot_be_is_one_clear_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    line: list[str],
    code: int,
    says: str,
) -> None:
    path = filled(tmp_path / "a.db")
    monkeypatch.chdir(tmp_path)
    assert run(["report", *line, "--store", str(path)]) == code
    told = capsys.readouterr().err
    assert says in told
    assert "Traceback" not in told
    assert not list(tmp_path.glob("r.*"))


def test_without_a_browser_a_pdf_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    path = filled(tmp_path / "a.db")
    assert run(["report", "1", "--to", str(tmp_path / "r.pdf"), "--store", str(path)]) == 1
    assert "apt-get install chromium" in capsys.readouterr().err
    assert not (tmp_path / "r.pdf").exists()


def test_without_plotly_the_extra_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "plotly.graph_objects", None)
    path = filled(tmp_path / "a.db")
    assert run(["report", "1", "--to", str(tmp_path / "r.html"), "--store", str(path)]) == 1
    assert "bathvigil[report]" in capsys.readouterr().err


def test_commands_load_plotly_only_for_a_report() -> None:
    code = "import sys, monitor.commands.report; print('plotly' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_many_warnings_cost_no_more_curves_than_a_few(tmp_path: Path) -> None:
    warned = filled(tmp_path / "a.db")
    several = 4 * MOST_TOLD
    with StoreWriter(warned) as writer:
        number = a_run(writer)
        writer.write([(number, a_sample(seq)) for seq in range(several)])
        for seq in range(several):
            writer.write([(number, an_event(seq, occurrence=seq + 1))])
        writer.end_run(number, a_sample(several).t_ns, "time is over")
    with open_store(warned) as store:
        html = run_report(store, store.run(number))
    # Each told forecast is a filled field; all further ones are one broken line.
    assert html.count('"fill":"toself"') == MOST_TOLD
    assert html.count("trip-expected: a cut-out is near") >= several
