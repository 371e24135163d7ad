"""Reports are one file that opens offline, and take no text of a stranger for code."""

import base64
import hashlib
import json
import re
import subprocess
import sys
from datetime import datetime, timedelta, timezone
from html import escape
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from monitor.commands.main import run
from monitor.export.run_report import Event, events_of, run_report
from monitor.model.alarm import Priority
from monitor.model.card import JobCard, Way
from monitor.model.entry import Entry, Kind
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.event import Mark, Prompt, SettingChange
from monitor.model.outcome import Gone, Outcome
from monitor.model.sample import Quality
from monitor.store.bath_rows import BathBook
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, a_gap, a_run, a_sample, a_store, an_event

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
    JobBox(path).put_outcome(1, Outcome(Gone.YES))
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
        "Chromium gone",
        "between 0.450 and 0.600 Ah",
        # Faraday's laws, 1.6 dm2 by 0.3 um of 7.19 g/cm3, six electrons: 0.1067 Ah.
        "0.107 Ah to dissolve",
        "This is a guide",
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
    policy = html.replace("&#39;", "'").partition('Policy" content="')[2].partition('"')[0]
    assert "default-src 'none'" in policy
    # Content Security Policy Level 3, 8.2: an inline script runs where its hash is named.
    (script,) = re.findall(r"<script>(.*?)</script>", html, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}';" in policy
    assert "unsafe" not in policy
    assert not re.search(r"<(?:script|link|img|iframe)[^>]+(?:src|href)\s*=", html)
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", html)
    assert len(html) < 300_000


def chart_in(html: str) -> Any:
    """The numbers that the page draws its chart from."""
    (data,) = re.findall(r'<script type="application/json">(.*?)</script>', html, re.DOTALL)
    return json.loads(data)


def test_a_strangers_text_is_shown_and_never_run(tmp_path: Path) -> None:
    html = report(filled(tmp_path / "a.db", EVIL), tmp_path / "r.html")
    assert EVIL not in html
    assert "<script>alert" not in html
    assert escape(EVIL) in html.replace("&#34;", "&quot;")
    assert EVIL in chart_in(html)["marks"][0][2]


def test_gaps_are_holes_in_the_chart_and_no_line_goes_across(tmp_path: Path) -> None:
    html = report(filled(tmp_path / "a.db"), tmp_path / "r.html")
    chart = chart_in(html)
    assert chart["gaps"] == [[pytest.approx(20.0, abs=0.1), pytest.approx(28.0, abs=0.1)]]
    rows = chart["rows"]
    lines = [
        (earlier[0], later[0])
        for earlier, later in pairwise(rows)
        if earlier is not None and later is not None
    ]
    assert lines
    assert not any(earlier < 24.0 < later for earlier, later in lines)
    # Five polls a second on twenty columns a second: the empty columns between break no line.
    assert rows.count(None) < 170


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
    assert f"The 14 most important of {len(events(path))}." in html
    assert ".screen { display: none !important; }" in html


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
    card = JobCard(
        "north tank", "strip", Way.TANK, "bell", 1.6, 0.3, "Ada", "order 112", "lid level"
    )
    JobBox(path).put_card(1, card)
    html = report(path, tmp_path / "r.html")
    assert re.search(r"reference</th><td>order 112", html)
    assert "lid, level. Not confirmed: extraction, goggles, base metal, polarity." in html
    # Published tanks: 6 V (Products Finishing, "Stripping nickel chrome"), 4 to 6 V (NMFRC, 2007).
    assert "Step strip: 2.5 to 12 V (default for a tank)." in html
    assert "Typical values" in html
    assert "End of the strip" in html
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


def test_commands_load_the_templates_only_for_a_report() -> None:
    code = "import sys, monitor.commands.main; print('jinja2' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_every_warning_is_in_the_chart_for_a_few_numbers_each(tmp_path: Path) -> None:
    warned, several = filled(tmp_path / "a.db"), 160
    with StoreWriter(warned) as writer:
        number = a_run(writer)
        writer.write([(number, a_sample(seq)) for seq in range(several)])
        for seq in range(several):
            writer.write([(number, an_event(seq, occurrence=seq + 1))])
        writer.end_run(number, a_sample(several).t_ns, "time is over")
    with open_store(warned) as store:
        html = run_report(store, store.run(number))
    chart = chart_in(html)
    assert len(chart["fans"]) == len(chart["alarms"]) == several
    said_s, _, low_s, median_s, high_s = chart["fans"][-1]
    assert said_s < low_s <= median_s <= high_s
    assert html.count("trip-expected: a cut-out is near") >= several


def test_times_are_local_and_name_their_zone_once(tmp_path: Path) -> None:
    path = filled(tmp_path / "a.db")
    BathBook(path).add(Entry("north tank", Kind.MAKE_UP, BEGAN_UTC_NS, litres=9.0))
    html = report(path, tmp_path / "r.html")
    with open_store(path) as store:
        row = store.run(1).row
    zone = timezone(timedelta(seconds=row.utc_offset_s))
    began = datetime.fromtimestamp(row.began_utc_ns / 1e9, zone)
    assert f"{began:%Y-%m-%d %H:%M} (local time, {zone})" in html.replace("&#43;", "+")
    html = report(path, tmp_path / "b.html", "--bath", "north tank")
    assert html.count("Times are local") == 1


def test_spent_solution_is_held_against_the_limit_of_hazardous_waste(tmp_path: Path) -> None:
    path = filled(tmp_path / "a.db")
    BathBook(path).add(Entry("north tank", Kind.MAKE_UP, 1, litres=9.0))
    html = report(path, tmp_path / "b.html", "--bath", "north tank")
    # 1.6 dm2 by 0.3 um of 7.19 g/cm3 is 34.5 mg, in 9 L 3.83 mg/L; 40 CFR 261.24: 5.0 mg/L, D007.
    assert "at least 3.83 mg/L chromium by the ledger" in html
    assert "D007 hazardous waste from 5.0 mg/L (40 CFR 261.24)" in html


def test_no_report_gives_a_figure_for_ventilation(tmp_path: Path) -> None:
    # Hydrogen alone says nothing of the mist of chromium(VI), which decides.
    assert "m3/h" not in report(filled(tmp_path / "a.db"), tmp_path / "r.html")
