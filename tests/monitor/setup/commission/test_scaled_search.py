"""A register that holds decimals: its meaning is found from what the panel showed."""

import pytest

from monitor.setup.commission.candidates import Facts, Setting
from monitor.setup.commission.errors import NotCommissioned
from monitor.setup.commission.panel import read_shown
from monitor.setup.commission.scaled_search import search_scaled

RATINGS = {"volts": 15.0, "amps": 15.0}
ADDRESSES, SCALES = {"volts": 0, "amps": 1}, {"volts": 2, "amps": 3}


def setting(volts: str, amps: str, *registers: int) -> Setting:
    shown = {"volts": read_shown(volts), "amps": read_shown(amps)}
    return Setting(shown, ((3, 0, registers),))


# 0xFFFE is -2 as a signed number of 16 bits.
@pytest.mark.parametrize(
    ("means", "first", "second"),
    [("decimals", 2, 3), ("exponent", 0xFFFE, 0xFFFD), ("divisor", 100, 1000)],
)
def test_one_meaning_fits(means: str, first: int, second: int) -> None:
    settings = [
        setting("6.12", "2.310", 612, 2310, first, second),
        setting("8.48", "4.071", 848, 4071, first, second),
    ]
    pair, found = search_scaled(settings, ADDRESSES, SCALES, RATINGS, Facts())
    assert found == means
    assert (pair.volts.address, pair.amps.address, pair.volts.scale) == (0, 1, 1.0)


def test_a_range_that_changes_between_the_settings_is_followed() -> None:
    settings = [
        setting("6.12", "2.310", 6120, 2310, 3, 3),
        setting("12.48", "4.071", 1248, 4071, 2, 3),
    ]
    assert search_scaled(settings, ADDRESSES, SCALES, RATINGS, Facts())[1] == "decimals"


@pytest.mark.parametrize("held", [0x4000, 1])
def test_a_register_that_holds_no_fitting_scale_is_refused(held: int) -> None:
    settings = [
        setting("6.12", "2.310", 612, 2310, held, held),
        setting("8.48", "4.071", 848, 4071, held, held),
    ]
    with pytest.raises(NotCommissioned):
        search_scaled(settings, ADDRESSES, SCALES, RATINGS, Facts())
