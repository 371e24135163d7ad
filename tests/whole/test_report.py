"""The invented workshop's months, its ledger, and reports as a browser shows and prints them."""

import re
import sqlite3
import subprocess
import sys
from pathlib import Path

import pypdf
import pytest

from monitor.baths.bath_view import view_of
from monitor.commands.main import run
from tests.whole.crowded_run import crowded_run
from tests.whole.tools import CHROMIUM


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("workshop") / "workshop.db"
    line = [sys.executable, "-m", "bathvigil", "demo", "--history"]
    subprocess.run([*line, "--store", str(path)], check=True, capture_output=True, timeout=60)
    return path


def test_the_months_hold_what_there_is_to_show(store: Path) -> None:
    tank, pot = view_of(store, "north tank"), view_of(store, "swab pot")
    assert len(tank.runs) + len(pot.runs) >= 40
    assert tank.prospect.trend is not None
    # The simulator's tank loses 1.37 % of its water from job to job: 1.2 % more conductance, less
    # or more by up to 0.3 % for what goes into solution.
    assert tank.prospect.trend.low < 0.012 < tank.prospect.trend.high + 0.002
    # Thinning there goes by the power 0.86 of the strength; the ledger does not see lost water.
    assert tank.exponent.dilutions == 2
    assert abs(tank.exponent.n - 0.86) < 2.5 * tank.exponent.sd
    assert tank.poured[-1].error is not None
    assert abs(tank.poured[-1].error) < 0.05
    with sqlite3.connect(store) as raw:
        tripped = raw.execute("SELECT count(*) FROM alarms WHERE alarm = 'tripped'").fetchone()[0]
    raw.close()
    assert tripped >= 1


def test_a_filled_store_is_never_filled_again(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = store.read_bytes()
    assert run(["demo", "--history", "--store", str(store)]) == 1
    assert "exists already" in capsys.readouterr().err
    assert store.read_bytes() == before


def tripped_run(store: Path) -> int:
    with sqlite3.connect(store) as raw:
        found = raw.execute("SELECT run FROM alarms WHERE alarm = 'tripped'").fetchone()
    raw.close()
    return int(found[0])


def test_a_report_prints_on_two_pages(store: Path, tmp_path: Path) -> None:
    if CHROMIUM is None:
        assert run(["report", "1", "--to", str(tmp_path / "r.pdf"), "--store", str(store)]) == 1
        return
    for number in (1, tripped_run(store)):
        to = tmp_path / f"{number}.pdf"
        assert run(["report", str(number), "--to", str(to), "--store", str(store)]) == 0
        pages = pypdf.PdfReader(to).pages
        assert 1 <= len(pages) <= 2
        text = " ".join(" ".join(page.extract_text() for page in pages).split())
        assert f"Run {number}" in text
        assert "amps, A" in text
        assert "hexavalent chromium" in text


@pytest.mark.trial
def test_the_most_crowded_run_prints_on_two_pages_and_a_baths_life_too(
    store: Path, tmp_path: Path
) -> None:
    crowded, to = tmp_path / "crowded.db", tmp_path / "r.pdf"
    crowded_run(crowded)
    lines = (["1", "--store", str(crowded)], ["--bath", "north tank", "--store", str(store)])
    for line in lines:
        assert run(["report", *line, "--to", str(to)]) == (1 if CHROMIUM is None else 0)
        if CHROMIUM is not None:
            assert len(pypdf.PdfReader(to).pages) == 2


def test_a_browser_draws_the_report_without_a_network(store: Path, tmp_path: Path) -> None:
    to = tmp_path / "r.html"
    number = tripped_run(store)
    assert run(["report", str(number), "--to", str(to), "--store", str(store)]) == 0
    if CHROMIUM is None:
        assert "runChart" in to.read_text(encoding="utf-8")
        return
    line = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--proxy-server=127.0.0.1:9"]
    done = subprocess.run(
        [*line, f"--user-data-dir={tmp_path}/p", "--virtual-time-budget=8000", "--dump-dom",
         to.as_uri()],
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    # Drawn: the curves are there as paths, and the limit is written at its line.
    curves = re.findall(r'<path class="curve" d="([^"]+)"', done.stdout)
    assert len(curves) == 3
    assert all(len(curve) > 1000 for curve in curves)
    assert ">limit 10 A</text>" in done.stdout
    assert 'class="fan"' in done.stdout
    assert "Why it cut out" in done.stdout
