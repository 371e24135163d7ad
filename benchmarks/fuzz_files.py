"""Every file that is read, spoilt, cut or made up, as properties: refused in one line, or right.

Files are written anew for each try, below one folder of the process.
"""

import json
import math
import re
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from hypothesis import strategies as st

from benchmarks.fuzz_edges import Edge, one_line
from benchmarks.growth_stores import long_run
from drivers.errors import BadDescription
from drivers.lines.lines_description import load_lines_description
from drivers.modbus.modbus_description import load_modbus_description
from drivers.scpi.scpi_description import load_scpi_description
from monitor.base.errors import BadSettings, BadTable, StoreError, WrongUse
from monitor.commands.export import EXPORTS
from monitor.export.run_text import run_text
from monitor.export.table_input import read_table
from monitor.export.table_source import quiet
from monitor.model.sample import Sample
from monitor.recorder.notices.outbox import Outbox
from monitor.settings import load_bench
from monitor.setup.commission.answers_file import read_answers
from monitor.store.reader import open_store
from monitor.store.writer import StoreWriter
from simulators.faults import load_faults
from simulators.form import FormError
from simulators.scene import load_scene

ROOT = Path(__file__).parents[1]
DESCRIPTIONS = ROOT / "drivers" / "descriptions"
LOADERS: dict[str, Callable[[str], object]] = {
    "scpi": load_scpi_description,
    "modbus": load_modbus_description,
    "lines": load_lines_description,
}
SPOILT = st.lists(
    st.tuples(
        st.sampled_from(["set", "cut", "put", "double", "drop"]),
        st.floats(0, 1),
        st.binary(min_size=1, max_size=6),
    ),
    min_size=1,
    max_size=6,
)
"""How a sound file is spoilt: what, where (a share of its length), and with which bytes."""


@cache
def folder() -> Path:
    """Of this process; small files are written into it over and over."""
    return Path(tempfile.mkdtemp(prefix="bathvigil-fuzz-"))


def tidy() -> None:
    """Take the folder away."""
    shutil.rmtree(folder(), ignore_errors=True)
    folder.cache_clear()


def spoilt(sound: bytes, moves: object) -> bytes:
    """A sound file with some of it changed."""
    assert isinstance(moves, list)
    data = bytearray(sound)
    for what, share, put in moves:
        cut = int(share * len(data))
        match what:
            case "set":
                data[cut : cut + len(put)] = put
            case "cut":
                del data[cut:]
            case "put":
                data[cut:cut] = put
            case "double":
                data[cut:cut] = data[cut : cut + 40 * len(put)]
            case _:
                del data[cut : cut + 10 * len(put)]
    return bytes(data)


def _written(name: str, data: bytes) -> Path:
    path = folder() / name
    path.write_bytes(data)
    return path


def _table(path: Path) -> None:
    try:
        rows = list(read_table(path))
    except BadTable as error:
        one_line(error)
        return
    times = [row.t_ns for row in rows]
    assert times == sorted(times)
    for row in rows:
        if isinstance(row, Sample):
            assert all(
                value is None or math.isfinite(value)
                for value in (row.volts, row.amps, row.celsius)
            )


@cache
def exported(ending: str) -> bytes:
    """A sound export of some readings."""
    path, to = _written("sound.db", sound_store()), folder() / f"sound{ending}"
    with open_store(path) as store:
        EXPORTS[ending](store.run(1), to, quiet)
    return to.read_bytes()


def _table_of(ending: str) -> Callable[[object], None]:
    return lambda moves: _table(_written(f"table{ending}", spoilt(exported(ending), moves)))


def _made_up_table(text: object) -> None:
    assert isinstance(text, str)
    _table(_written("table.csv", f"t_s,volts,amps\n{text}".encode("utf-8", "surrogatepass")))


@cache
def sound_store() -> bytes:
    """A small store with a run; most of its rows are sealed."""
    path = folder() / "made.db"
    with long_run(path, 3_000):
        pass
    return path.read_bytes()


def _store(moves: object) -> None:
    path = _written("spoilt.db", spoilt(sound_store(), moves))
    for beside in ("-wal", "-shm"):
        path.with_name(path.name + beside).unlink(missing_ok=True)
    try:
        with open_store(path) as store:
            for row in store.runs():
                run = store.run(row.run)
                run_text(run)
                run.columns(50)
                assert sum(1 for _ in run.rows()) <= 100_000
                run.samples()
                run.estimates()
                run.what_is_unsound()
    except StoreError as error:
        one_line(error)


def _store_to_write(moves: object) -> None:
    path = _written("spoilt.db", spoilt(sound_store(), moves))
    try:
        with StoreWriter(path) as writer:
            writer.unfinished_runs("bench-1")
    except StoreError as error:
        one_line(error)


@cache
def sound_bench() -> bytes:
    """The settings of docs/SETTINGS.md."""
    page = (ROOT / "docs" / "SETTINGS.md").read_text(encoding="utf-8")
    match = re.search(r"<!-- bench.toml.*?```toml\n(.*?)```", page, re.DOTALL)
    assert match is not None
    return match[1].encode()


def _bench(data: bytes) -> None:
    try:
        bench = load_bench(_written("bench.toml", data))
    except BadSettings as error:
        one_line(error)
        return
    for supply in bench.supplies.values():
        assert supply.limit_amps > 0
        assert math.isfinite(supply.limit_amps)


def _made_up_bench(data: object) -> None:
    assert isinstance(data, bytes)
    _bench(data)


def _description(kind: str) -> Callable[[object], None]:
    sound = DESCRIPTIONS / f"{kind}-dc-supply.toml"

    def check(moves: object) -> None:
        path = _written("mine.toml", spoilt(sound.read_bytes(), moves))
        try:
            LOADERS[kind](str(path))
        except BadDescription as error:
            one_line(error)

    return check


def _answers(data: object) -> None:
    assert isinstance(data, bytes)
    try:
        read_answers(_written("answers.toml", data))
    except WrongUse as error:
        one_line(error)


def _outbox(moves: object) -> None:
    line = json.dumps(
        {"channel": "a", "tries": 1, "key": "k", "title": "t", "text": "x", "priority": "high"}
    )
    path = _written("waiting.notices", spoilt(f"{line}\n{line}\n".encode(), moves))
    box = Outbox(path, ["a"])
    first = box.first("a")
    if first is not None:
        assert box.tried(first).tries == first.tries + 1
        box.put("b", first.notice)


def _scene(moves: object) -> None:
    sound = (ROOT / "simulators" / "scenes" / "quiet-strip.toml").read_bytes()
    try:
        load_scene(str(_written("scene.toml", spoilt(sound, moves))))
    except FormError as error:
        one_line(error)


def _faults(data: object) -> None:
    assert isinstance(data, bytes)
    try:
        load_faults(_written("faults.toml", data), [], None)
    except FormError as error:
        one_line(error)


CELLS = st.one_of(
    st.floats(allow_nan=True).map(str), st.integers().map(str), st.text(max_size=8), st.just("")
)
ROWS = st.lists(st.lists(CELLS, min_size=1, max_size=5).map(",".join), max_size=8).map("\n".join)

FILE_EDGES = (
    Edge("tables made up", st.one_of(ROWS, st.text(max_size=200)), _made_up_table),
    Edge("tables spoilt: CSV", SPOILT, _table_of(".csv")),
    Edge("tables spoilt: JSON Lines", SPOILT, _table_of(".jsonl")),
    Edge("tables spoilt: Parquet", SPOILT, _table_of(".parquet")),
    Edge("tables spoilt: workbooks", SPOILT, _table_of(".xlsx")),
    Edge("stores spoilt, read", SPOILT, _store),
    Edge("stores spoilt, written", SPOILT, _store_to_write),
    Edge("bench.toml spoilt", SPOILT, lambda moves: _bench(spoilt(sound_bench(), moves))),
    Edge("bench.toml made up", st.binary(max_size=200), _made_up_bench),
    Edge("descriptions spoilt: SCPI", SPOILT, _description("scpi")),
    Edge("descriptions spoilt: Modbus", SPOILT, _description("modbus")),
    Edge("descriptions spoilt: plain lines", SPOILT, _description("lines")),
    Edge("answers for setting up", st.binary(max_size=200), _answers),
    Edge("notices that wait", SPOILT, _outbox),
    Edge("scenes spoilt", SPOILT, _scene),
    Edge("faults made up", st.binary(max_size=200), _faults),
)
