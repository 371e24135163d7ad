"""The end of a strip under a swab: a fall of the strokes' tops, told by a cumulative sum.

Which way the amps go at the end is published nowhere (the coulometric methods of ASTM B764 and
ISO 2177 know a change of volts only); that a swab's rise says nothing is this project's own choice.
"""

from random import Random

import pytest

from benchmarks.finish import told_by_product
from benchmarks.finish_runs import SWAB, draw_finish, play_finish
from monitor.analysis.finish import Finish
from monitor.analysis.swab_finish import LINE, LONGEST, SwabFinish
from monitor.text.prompts import looks_finished

TOP_S = 6.0
AMPS = 5.0
SCATTER = 0.03


def finishes(
    change: float,
    at_top: int = 80,
    over_tops: int = 10,
    tops: int = 200,
    slope: float = 0.0,
    seed: int = 1,
    least_amp_hours: float | None = None,
) -> list[Finish]:
    """What is found where the tops move by `change` on a slope of so much a minute."""
    watch, draw, found = SwabFinish(least_amp_hours), Random(seed), []
    for n in range(tops):
        moved = change * min(max((n - at_top) / over_tops, 0.0), 1.0)
        x = moved + slope * n * TOP_S / 60.0 + draw.gauss(0.0, SCATTER)
        finish = watch.update(n * TOP_S, x, n * TOP_S * AMPS / 3600.0, SCATTER)
        if finish is not None:
            found.append(finish)
    return found


@pytest.mark.parametrize(
    ("change", "slope"), [(-0.15, 0.0), (-0.15, 0.005), (-0.15, 0.01), (-0.1, 0.0), (-0.1, 0.005)]
)
@pytest.mark.parametrize("seed", range(1, 5))
def test_a_fall_under_the_line_is_told_once(change: float, slope: float, seed: int) -> None:
    (found,) = finishes(change, slope=slope, seed=seed)
    assert 80 * TOP_S < found.t_s < 110 * TOP_S
    assert found.change < -0.045
    assert found.began_s == pytest.approx(85 * TOP_S, abs=15 * TOP_S)
    assert not found.is_at_rest


@pytest.mark.parametrize("seed", range(1, 9))
def test_the_hands_scatter_alone_is_no_end_in_an_hour(seed: int) -> None:
    assert finishes(0.0, tops=600, seed=seed) == []


@pytest.mark.parametrize("slope", [0.01, 0.03])
@pytest.mark.parametrize("seed", range(1, 5))
def test_a_swab_that_warms_and_loads_is_no_end_whether_it_goes_on_or_comes_to_rest(
    slope: float, seed: int
) -> None:
    assert finishes(0.0, slope=slope, seed=seed) == []
    # What the line would have gone on to is no fall.
    draw, watch = Random(seed), SwabFinish()
    for n in range(300):
        x = slope * min(n, 100) * TOP_S / 60.0 + draw.gauss(0.0, SCATTER)
        assert watch.update(n * TOP_S, x, n / 100.0, SCATTER) is None


def test_a_rise_is_not_told() -> None:
    assert finishes(0.12) == []


@pytest.mark.parametrize("guide", [2.0, 0.5, None])
def test_faradays_charge_is_a_guide_beside_the_end_and_never_forbids_it(
    guide: float | None,
) -> None:
    # 5 A for ten minutes are 0.83 Ah; thicknesses of a class are minima (ISO 1456, ASTM B456).
    (found,) = finishes(-0.15, least_amp_hours=guide)
    assert found.guide_amp_hours == guide


def test_a_new_line_begins_where_the_volts_were_changed() -> None:
    watch, draw = SwabFinish(), Random(1)
    for n in range(200):
        if n == 80:
            watch.restart()
        x = draw.gauss(0.0, SCATTER) - (0.2 if n >= 80 else 0.0)
        assert watch.update(n * TOP_S, x, n / 100.0, SCATTER) is None


def test_what_is_kept_does_not_grow() -> None:
    watch, draw = SwabFinish(), Random(1)
    for n in range(20_000):
        watch.update(n * TOP_S, draw.gauss(0.0, SCATTER), n / 100.0, SCATTER)
    assert len(watch._xs) <= LINE + LONGEST + 11


def test_the_prompt_claims_no_rest_that_was_not_seen() -> None:
    words = looks_finished(-0.1, 120.0, False, 0.9)
    assert "Faraday" not in words
    assert "0.90 Ah (Faraday's guide: 1.10)" in looks_finished(-0.1, 120.0, False, 0.9, 1.1)
    assert "fell by 10% within 120 s of swab work, after 0.90 Ah" in words
    assert "is steady" not in words


def test_simulated_swab_work_is_told_its_end_more_often_than_not_and_never_early() -> None:
    """The whole watch over the simulator's swab; the rates stand in benchmarks/FINISH.md."""
    in_time = 0
    for number in range(60_000, 60_006):
        run = play_finish(draw_finish(SWAB, number))
        assert run.bared_s is not None
        assert run.gone_s is not None
        told = told_by_product(run)
        assert all(t_s >= run.bared_s for t_s in told)
        in_time += any(t_s <= run.gone_s + 180.0 for t_s in told)
    assert in_time >= 3
