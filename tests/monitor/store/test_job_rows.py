"""Cards and outcomes lie beside the run; a correction is a further row and the newest counts."""

import sqlite3
from pathlib import Path

import pytest

from monitor.base.errors import NoSuchRun, StoreError
from monitor.model.card import JobCard, Way
from monitor.model.card_text import card_from_text
from monitor.model.event import Prompt
from monitor.model.outcome import Gone, Outcome
from monitor.model.request import RequestKind
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from monitor.store.schema import STEPS
from monitor.store.writer import StoreWriter
from tests.monitor.store.bench import a_run, a_store

CARD = JobCard(
    "north tank", "strip", Way.TANK, "handlebar", 4.5, 0.5, "Ada", "order 112", "lid level"
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        a_run(writer)
    return path


def end(path: Path) -> None:
    with a_store(path) as writer:
        writer.end_run(1, 10, "ended by the operator")


def test_a_run_without_answers_has_neither(path: Path) -> None:
    with open_store(path) as store:
        assert store.run(1).card() is None
        assert store.run(1).outcome() is None


def test_the_newest_card_counts_and_the_older_stays(path: Path) -> None:
    box = JobBox(path)
    box.put_card(1, JobCard(part="bell"))
    box.put_card(1, CARD)
    with open_store(path) as store:
        assert store.run(1).card() == CARD
    with sqlite3.connect(path) as raw:
        assert raw.execute("SELECT count(*) FROM job_cards").fetchone() == (2,)
    raw.close()


@pytest.mark.parametrize(
    "seen",
    [
        Outcome(),
        Outcome(Gone.YES, False, "Ada"),
        Outcome(Gone.PATCHES),
        Outcome(Gone.NO, True),
        Outcome(film_holds=False),
    ],
)
def test_an_outcome_of_an_ended_run_comes_back_as_it_was_told(path: Path, seen: Outcome) -> None:
    end(path)
    JobBox(path).put_outcome(1, seen)
    with open_store(path) as store:
        assert store.run(1).outcome() == seen


def test_an_outcome_of_a_run_that_is_not_over_is_refused_and_nothing_is_stored(path: Path) -> None:
    with pytest.raises(
        StoreError, match=r"^run 1 is still running: end it, .* nothing was stored$"
    ):
        JobBox(path).put_outcome(1, Outcome(Gone.YES))
    with open_store(path) as store:
        assert store.run(1).outcome() is None


def test_at_the_bath_it_is_told_once_the_wetting_test_was_asked_for(path: Path) -> None:
    with a_store(path) as writer:
        writer.write([(1, Prompt("strip-looks-finished", 5, 10**9, "look at the work"))])
        with pytest.raises(StoreError, match="switch off for the water-break test"):
            JobBox(path).put_outcome(1, Outcome(Gone.YES))
        writer.write([(1, Prompt("check-wetting", 9, 2 * 10**9, "rinse"))])
    JobBox(path).put_outcome(1, Outcome(Gone.NO))
    JobBox(path).put_outcome(1, Outcome(Gone.YES))
    with open_store(path) as store:
        assert store.run(1).outcome() == Outcome(Gone.YES)


def test_a_card_of_before_the_reference_reads_as_without_one(tmp_path: Path) -> None:
    path = tmp_path / "old.db"
    with StoreWriter(path, steps=STEPS[:6]) as writer:
        a_run(writer)
        with sqlite3.connect(path) as raw:
            raw.execute(
                "INSERT INTO job_cards (run, utc_ns, bath, step, way, part, operator)"
                " VALUES (1, 1, 'north tank', 'strip', 'tank', 'bell', 'Ada')"
            )
        raw.close()
    with a_store(path):
        JobBox(path).put_card(1, CARD)
    with open_store(path) as store:
        assert store.run(1).card() == CARD
    with sqlite3.connect(path) as raw:
        cells = raw.execute("SELECT part, reference FROM job_cards").fetchall()
        assert cells == [("bell", ""), ("handlebar", "order 112")]
    raw.close()


def test_the_recorder_of_a_run_that_goes_on_is_asked_to_take_the_card_up(path: Path) -> None:
    JobBox(path).put_card(1, CARD)
    end(path)
    JobBox(path).put_card(1, JobCard(part="bell"))
    with open_store(path) as store:
        (asked,) = store.run(1).requests()
    assert asked.kind is RequestKind.JOB_CARD
    assert card_from_text(asked.detail) == CARD


def test_a_run_that_is_not_there_takes_no_card(path: Path) -> None:
    with pytest.raises(NoSuchRun):
        JobBox(path).put_card(7, CARD)
