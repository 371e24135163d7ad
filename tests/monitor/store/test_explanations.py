"""What made a strip stop comes back from the store as it went in, and is written once."""

from pathlib import Path

from monitor.model.explanation import Cause, Explanation, Happening
from monitor.store.reader import open_store
from tests.monitor.store.bench import a_run, a_store

TOLD = Explanation(
    Cause.SLOW_RISE,
    "from 35.0 A to 40.2 A in 12:13 at the same volts",
    3695,
    739_000_000_000,
    (Happening(5.0, "output on"), Happening(739.0, "cut out")),
    "second cut-out in 5 min",
)


def test_an_explanation_comes_back_as_it_went_in(tmp_path: Path) -> None:
    with a_store(tmp_path / "s.db") as writer:
        run = a_run(writer)
        writer.write([(run, TOLD)])
        writer.write([(run, TOLD)])
    with open_store(tmp_path / "s.db") as store:
        assert store.run(run).explanations() == [TOLD]
