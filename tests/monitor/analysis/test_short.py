"""A short on the first sample that shows it; none where the operator or the hand did it."""

import pytest

from monitor.analysis.bath_draw import BathDraw
from monitor.analysis.short import STANDS_S, Short, ShortWatch

UNLEARNED = (1.0, 2.8)


class Bath:
    """What a recorder sees of one bath: the watch, and the level that it is held against."""

    def __init__(self, limit_amps: float = 40.0, lead_ohms: float = 0.0) -> None:
        self.watch = ShortWatch(limit_amps, lead_ohms)
        self.draw = BathDraw(0.2)

    def update(self, t_s: float, volts: float, amps: float) -> Short | None:
        short = self.watch.update(t_s, volts, amps, UNLEARNED, self.draw)
        if short is None:
            self.draw.update(t_s, volts, amps)
        return short

    def stand(self, from_s: float, for_s: float, volts: float, amps: float) -> list[Short | None]:
        return [self.update(from_s + n * 0.2, volts, amps) for n in range(round(for_s / 0.2))]


def watched() -> Bath:
    """A bath of 3.9 S behind 1.8 V, steady at 8 V for eight seconds."""
    bath = Bath()
    assert not any(bath.stand(0.0, 8.0, 8.0, 24.2))
    return bath


def test_volts_that_no_cell_conducts_at_are_a_short() -> None:
    # Water splits at 1.229 V and no less: CRC Handbook's Gibbs energies of formation.
    short = Bath().update(0.0, 0.9, 40.0)
    assert short is not None
    assert short.ohms == pytest.approx(0.0225)


def test_the_leads_own_drop_counts_as_no_cell() -> None:
    # 40 A through 20 milliohm are 0.8 V: 1.6 V at the terminals are 0.8 V at the short.
    assert Bath(lead_ohms=0.02).update(0.0, 1.6, 40.0) is not None
    assert Bath().update(0.0, 1.6, 40.0) is None


def test_half_the_limit_at_hardly_more_than_the_electrodes_take_is_a_short_from_the_start() -> None:
    bath = Bath()
    assert bath.update(0.0, 2.0, 22.0) is None
    assert bath.update(0.5, 2.0, 22.0) is not None


@pytest.mark.parametrize("true_e0", [1.4, 1.8, 2.2, 2.8])
@pytest.mark.parametrize("seconds", [0.2, 1.0, 10.0, 60.0])
def test_volts_that_a_hand_turns_up_from_near_the_intercept_are_none(
    true_e0: float, seconds: float
) -> None:
    """Five seconds a little over the intercept, then up to 9 V."""
    bath, siemens = Bath(), 4.0
    low = true_e0 + 0.2
    assert not any(bath.stand(0.0, 5.0, low, siemens * 0.2))
    for n in range(1, round(seconds / 0.2) + 1):
        volts = low + (9.0 - low) * min(n * 0.2 / seconds, 1.0)
        assert bath.update(5.0 + n * 0.2, volts, siemens * (volts - true_e0)) is None
    assert not any(bath.stand(5.2 + seconds, 30.0, 9.0, siemens * (9.0 - true_e0)))


def test_the_first_sample_with_more_than_the_bath_draws_is_enough() -> None:
    short = watched().update(8.0, 8.0, 60.0)
    assert short is not None
    assert short.bath_amps == pytest.approx(24.2)


def test_a_supply_that_gives_all_it_can_lets_the_volts_fall_and_is_seen_too() -> None:
    assert watched().update(8.0, 2.2, 52.0) is not None


def test_it_stands_until_volts_over_amps_are_back() -> None:
    bath = watched()
    bath.update(8.0, 2.2, 52.0)
    assert bath.update(8.2, 2.3, 52.0) is not None
    assert bath.update(8.4, 8.0, 24.0) is None


def test_a_short_that_leaves_the_volts_as_set_is_over_after_ten_seconds() -> None:
    seen = watched().stand(8.0, STANDS_S + 2.0, 8.0, 60.0)
    assert all(seen[: round(STANDS_S / 0.2) - 1])
    assert seen[-1] is None


def test_a_short_that_holds_the_volts_down_stays() -> None:
    assert all(watched().stand(8.0, 60.0, 2.2, 40.0))


@pytest.mark.parametrize("true_e0", [1.4, 1.8, 2.2])
@pytest.mark.parametrize(("before", "after"), [(4.0, 9.0), (9.0, 4.0), (6.0, 12.0)])
def test_a_step_of_the_volts_is_none(true_e0: float, before: float, after: float) -> None:
    bath, siemens = Bath(), 4.0
    assert not any(bath.stand(0.0, 8.0, before, siemens * (before - true_e0)))
    assert bath.update(8.0, after, siemens * (after - true_e0)) is None


def test_a_second_part_like_the_first_is_none() -> None:
    assert watched().update(8.0, 8.0, 48.4) is None


def test_a_bath_not_known_of_late_convicts_nobody() -> None:
    assert watched().update(60.0, 8.0, 60.0) is None
