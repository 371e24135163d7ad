"""A store written before the packing went to numpy: it opens, reads exactly and goes on.

`earlier/store.db.gz` is the file as that program left it: one sealed run with all that can stand
in a run, one unfinished run with sealed and unsealed rows, a ledger of baths, a forwarder's cursor.
`earlier/store.json.gz` is what that program read back from it, checked against what it wrote.
"""

import gzip
import json
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import pytest

from monitor.store.bath_rows import BathBook
from monitor.store.forward_state import forward_states, quarantined
from monitor.store.reader import StoredRun, open_store
from tests.clock import HandClock
from tests.monitor.store.bench import BEGAN_UTC_NS, a_gap, a_sample, a_store

EARLIER = Path(__file__).with_name("earlier")
READ: dict[str, Any] = json.loads(gzip.decompress((EARLIER / "store.json.gz").read_bytes()))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "store.db"
    path.write_bytes(gzip.decompress((EARLIER / "store.db.gz").read_bytes()))
    return path


def plain(value: object) -> Any:
    """A value as JSON gives it back: classes as lists of their fields, enums as their values."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value):
        return [plain(getattr(value, field.name)) for field in fields(value)]
    if isinstance(value, dict):
        return {name: plain(part) for name, part in value.items()}
    if isinstance(value, tuple | list):
        return [plain(part) for part in value]
    return value


def read(run: StoredRun) -> dict[str, object]:
    segments = run.segments()
    return {
        "row": plain(run.row),
        "rows": plain(list(run.rows())),
        "estimates": plain(list(run.estimates())),
        # Without boot and process, which are those of the machine that wrote it.
        "segments": [[*cells[:2], *cells[4:]] for cells in plain(segments)],
        "alarms": plain(run.alarms()),
        "explanations": plain(run.explanations()),
        "prompts": plain(run.prompts()),
        "marks": plain(run.marks()),
        "card": plain(run.card()),
        "steps": plain(run.steps()),
        "outcome": plain(run.outcome()),
        "gaps": plain(run.gaps()),
        "statuses": plain(run.statuses()),
        "setting_changes": plain(run.setting_changes()),
        "requests": plain(run.requests()),
        "summary": plain(run.summary()),
    }


def to_12_digits(columns: list[list[float | None]]) -> list[list[str | None]]:
    return [[None if cell is None else f"{cell:.12g}" for cell in column] for column in columns]


@pytest.mark.parametrize("number", [1, 2], ids=["sealed", "unfinished"])
def test_every_value_is_read_as_it_was_written(path: Path, number: int) -> None:
    expected = dict(READ["runs"][str(number)])
    columns = expected.pop("columns")
    # What that program called "limits" is called "holds" now.
    facts = expected["row"][1]
    # The action of an occurrence came later.
    expected["alarms"] = [[*event, ""] for event in expected["alarms"]]
    facts[3] = {"limits": "holds"}.get(facts[3], facts[3])
    # One question at the rinse became two: a film that held meant that the chromium was gone.
    if expected["outcome"] is not None:
        wetted, _, by = expected["outcome"]
        expected["outcome"] = [{True: "yes"}.get(wetted), wetted, by]
    # The checklist of the start card and the operator's way came later.
    if expected["card"] is not None:
        expected["card"] = [*expected["card"], "", None]
    with open_store(path) as store:
        run = store.run(number)
        assert run.what_is_unsound() is None
        assert read(run) == expected
        # A mean is a sum of floats, which may be added up in another order.
        assert to_12_digits(plain(run.columns(12))) == to_12_digits(columns)


def test_the_baths_and_the_forwarders_place_are_read(path: Path) -> None:
    # Titrations and additions came later.
    entries = [[*entry, None, None] for entry in READ["baths"]]
    assert plain(BathBook(path).entries()) == entries
    assert plain(forward_states(path)) == READ["forward"]
    assert plain(quarantined(path)) == READ["quarantined"]


def test_the_unfinished_run_goes_on_and_is_sealed(path: Path) -> None:
    clock = HandClock(utc_now_ns=BEGAN_UTC_NS + 200 * 1_000_000_000)
    earlier = READ["runs"]["2"]["rows"]
    more = [a_sample(seq) if seq % 7 else a_gap(seq) for seq in range(len(earlier), 500)]
    with a_store(path, clock) as writer:
        assert writer.set_aside is None
        segment = writer.resume_run(2, clock=clock)
        assert segment.began_seq == len(earlier)
        writer.write([(2, row) for row in more])
        writer.end_run(2, None, "ended by the operator")
    with open_store(path) as store:
        run = store.run(2)
        assert run.what_is_unsound() is None
        rows = list(run.rows())
        assert plain(rows[: len(earlier)]) == earlier
        assert rows[len(earlier) :] == more
        assert read(store.run(1))["rows"] == READ["runs"]["1"]["rows"]
