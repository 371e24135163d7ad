"""The job card and the outcome from the command line: one clear line, or nothing is changed."""

from pathlib import Path

import pytest

from monitor.commands.main import run
from monitor.model.card import JobCard, Way
from monitor.model.outcome import Gone, Outcome
from monitor.store.reader import open_store
from tests.monitor.store.bench import a_run, a_sample, a_store, an_estimate


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Run 1 has ended, run 2 goes on."""
    path = tmp_path / "a.db"
    with a_store(path) as writer:
        for _ in range(2):
            number = a_run(writer)
            writer.write([(number, a_sample(0)), (number, an_estimate(0))])
        writer.end_run(1, 10, "ended by the operator")
    return path


def kept(path: Path, number: int) -> tuple[JobCard | None, Outcome | None]:
    with open_store(path) as store:
        return store.run(number).card(), store.run(number).outcome()


def test_a_card_is_filled_in_and_corrected(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = ["job", "2", "--store", str(path)]
    card = ["--step", "strip", "--way", "tank", "--part", "bell", "--area", "plate 10 x 16 cm"]
    assert run([*line, *card, "--chromium", "Cr mp", "--reference", "order 112"]) == 0
    told = capsys.readouterr().out
    # 1.6 dm2 of 0.3 um take 0.107 Ah (Faraday's law, six electrons).
    assert "strip bell in a tank, 1.6 dm2, 0.3 um of chromium, for order 112" in told
    assert "0.50 Ah; Faraday's guide: 0.11 Ah" in told
    assert "no result yet" in told
    assert run([*line, "--chromium", "0.5 um"]) == 0
    assert kept(path, 2)[0] == JobCard(
        "", "strip", Way.TANK, "bell", 1.6, 0.5, "", "order 112"
    )  # fmt: skip


def test_an_outcome_is_told_and_the_film_is_added_later(path: Path) -> None:
    line = ["job", "1", "--store", str(path)]
    assert run([*line, "--gone", "patches", "--by", "Ada"]) == 0
    assert run([*line, "--film-holds", "--by", "Ben"]) == 0
    assert kept(path, 1)[1] == Outcome(Gone.PATCHES, film_holds=True, by="Ben")


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        (["2", "--gone", "yes", "--part", "bell"], 1, "run 2 is still running: end it"),
        (["1", "--film-breaks", "--area", "0 cm2"], 2, "area '0 cm2'"),
        (["1", "--part", "bell", "--area", "12"], 2, "write a number with cm2"),
        (["1", "--part", "bell", "--chromium", "3 mm"], 2, "check the unit"),
        (["1", "--part", "bell", "--chromium", "0.3"], 2, "name the unit"),
        (["1", "--part", "bell", "--bath", "north tnak"], 2, "did you mean 'north tank'?"),
        (["1", "--part", "bell", "--step", "strep"], 2, "there is no step 'strep'"),
        (["1", "--part", "x" * 41], 2, "--part"),
        (["7", "--part", "bell"], 1, "holds no run 7"),
        (["--part", "bell"], 2, "RUN"),
    ],
)
def test_what_cannot_be_is_one_clear_line_and_changes_nothing(
    path: Path, line: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = kept(path, 1), kept(path, 2)
    assert run(["job", *line, "--store", str(path)]) == code
    told = capsys.readouterr()
    assert says in told.err
    assert told.out == ""
    assert "Traceback" not in told.err
    assert (kept(path, 1), kept(path, 2)) == before == ((None, None), (None, None))
