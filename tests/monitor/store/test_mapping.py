"""Values as rows: all columns are the schema's, and a code that nobody knows is damage."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from monitor.base.errors import StoreDamaged
from monitor.model.alarm import AlarmEvent
from monitor.model.card import JobCard, Way
from monitor.model.estimate import Estimate
from monitor.model.explanation import Cause, Explanation, Happening
from monitor.model.run import LimitKind
from monitor.store import tables
from monitor.store.mapping import Row, Table
from monitor.store.reader import open_store
from monitor.store.schema import STEPS
from tests.clock import HandClock
from tests.monitor.store.bench import FACTS, a_run, a_sample, a_store, an_estimate, an_event

TABLES: dict[str, Table[Any]] = {
    name: table for name, table in vars(tables).items() if isinstance(table, Table)
}


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_every_column_is_one_of_the_schema(table: Table[Any]) -> None:
    connection = sqlite3.connect(":memory:")
    for step in STEPS:
        connection.executescript(step)
    connection.execute(table.select(""))
    connection.close()


def test_parts_stand_as_their_own_columns_rounded() -> None:
    estimate = an_estimate(5)._replace(siemens=0.123456789)
    cells = dict(zip(tables.ESTIMATES.names, tables.ESTIMATES.cells(estimate), strict=True))
    assert (cells["trip_in_s"], cells["hottest_share"], cells["in_contact"]) == (118.0, None, 0)
    assert cells["siemens"] == 0.123457
    back: Estimate = tables.ESTIMATES.value(tuple(cells.values()))
    assert back == estimate._replace(siemens=0.123457)


def test_none_stands_as_a_blank_where_the_column_takes_no_null() -> None:
    assert tables.CARDS.cells(JobCard())[2] == ""
    for card in (JobCard(), JobCard(way=Way.SWAB)):
        assert tables.CARDS.value(tables.CARDS.cells(card)) == card


def test_a_list_of_values_stands_as_json() -> None:
    order = (Happening(20.0, "a cut-out is near"), Happening(46.2, "cut out"))
    explanation = Explanation(Cause.SLOW_RISE, "the amps rose", 231, 5, order)
    cells = tables.EXPLANATIONS.cells(explanation)
    assert cells[4] == '[[20.0,"a cut-out is near"],[46.2,"cut out"]]'
    assert tables.EXPLANATIONS.value(cells) == explanation


def alarm(state: str) -> tuple[Table[AlarmEvent], Row]:
    cells = list(tables.ALARMS.cells(an_event(5)))
    cells[3] = state
    return tables.ALARMS, tuple(cells)


@pytest.mark.parametrize(
    ("table", "cells"),
    [
        alarm("asleep"),
        (tables.EXPLANATIONS, ("heat", "", 1, 1, "[[1]]", "")),
        (tables.EXPLANATIONS, ("heat", "", 1, 1, "[[", "")),
        (tables.CARDS, ("", "", "by air", "", None, None, "", "")),
    ],
    ids=["code", "list", "JSON", "blank or a code"],
)
def test_what_nobody_knows_is_no_value(table: Table[Any], cells: Row) -> None:
    with pytest.raises(ValueError, match=r"."):
        table.value(cells)


def test_what_holds_its_amps_stands_as_the_word_of_earlier_stores(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        facts = replace(FACTS, limit_kind=LimitKind.HOLDS)
        run = writer.begin_run(facts, clock=HandClock(), program="bathvigil test").run
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT limit_kind FROM runs").fetchall() == [("limits",)]
    with open_store(path) as store:
        assert store.run(run).row.facts.limit_kind is LimitKind.HOLDS


def test_a_reason_that_nobody_knows_is_told_as_damage(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        run = a_run(writer)
        writer.write([(run, a_sample(0)), (run, an_estimate(0))])
    with sqlite3.connect(path) as stranger:
        stranger.execute("UPDATE estimates SET why = 'the weather'")
    stranger.close()
    with open_store(path) as store:
        stored = store.run(run)
        reads: list[Callable[[], object]] = [
            stored.latest_estimate,
            lambda: list(stored.estimates()),
        ]
        for read in reads:
            with pytest.raises(StoreDamaged, match="the weather"):
                read()
