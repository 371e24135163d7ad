"""What like jobs drew, from the earlier runs of a bath, by Ohm's law over the intercept."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.baths.usual_draw import usual_draw
from monitor.model.card import JobCard, Way
from monitor.model.usual_amps import UsualAmps
from monitor.store.job_rows import JobBox
from monitor.store.reader import open_store
from tests.monitor.store.bench import FACTS, a_run, a_sample, a_store, an_estimate

BELL = JobCard("north tank", "strip", Way.TANK, "bell", 1.6)
POLLS = 5
NEXT = 99


def jobs(path: Path, *siemens: float, card: JobCard = BELL, probe: bool = True) -> None:
    """Runs of 40 s at 7 V with 2 V of intercept."""
    with a_store(path) as writer:
        for one in siemens:
            run = a_run(writer)
            for t_s in range(40):
                told = an_estimate(t_s * POLLS)._replace(
                    siemens=one,
                    siemens_at_25=0.9 * one,
                    polarisation_volts=2.0,
                    in_contact=True,
                )
                celsius = 30.0 if probe else None
                row = replace(a_sample(t_s * POLLS), volts=7.0, celsius=celsius)
                writer.write([(run, row), (run, told)])
            writer.end_run(run, 40 * 10**9, "ended by the operator")
            JobBox(path).put_card(run, card)


def usual(path: Path, card: JobCard = BELL, supply: str = "bench-1") -> UsualAmps | None:
    with open_store(path) as store:
        return usual_draw(store, replace(FACTS, supply=supply), card, NEXT)


def test_with_a_probe_the_band_is_narrow_and_holds_at_25_celsius(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0, 1.1, 1.2)
    found = usual(tmp_path / "a.db")
    # The middle job: 0.9 x 1.1 S over 7 V less 2 V.
    assert found == pytest.approx((4.95 * 0.95, 4.95, 4.95 * 1.05, 7.0, 25.0, 7.0))


def test_without_a_probe_it_is_wide(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0, 1.1, 1.2, probe=False)
    found = usual(tmp_path / "a.db")
    assert found is not None
    assert found[:4] == pytest.approx((5.5 * 0.8, 5.5, 5.5 * 1.2, 7.0))
    assert found.celsius is None


def test_only_the_newest_few_count(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", *(9.0 for _ in range(6)), *(1.0 for _ in range(5)))
    found = usual(tmp_path / "a.db")
    assert found is not None
    assert found.middle == pytest.approx(4.5)


@pytest.mark.parametrize(
    "card",
    [
        replace(BELL, bath="swab pot"),
        replace(BELL, way=Way.SWAB),
        replace(BELL, step="clean"),
        replace(BELL, area_dm2=2.0),
        replace(BELL, part="handlebar", area_dm2=None),
        JobCard("north tank", "strip", Way.TANK),
    ],
)
def test_unlike_jobs_say_nothing(card: JobCard, tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0)
    assert usual(tmp_path / "a.db", card) is None


def test_another_supply_says_nothing_and_a_like_area_is_enough(tmp_path: Path) -> None:
    jobs(tmp_path / "a.db", 1.0)
    assert usual(tmp_path / "a.db", supply="bench-2") is None
    assert usual(tmp_path / "a.db", replace(BELL, part="", area_dm2=1.7)) is not None
