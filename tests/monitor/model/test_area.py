"""An area as people write it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.area import area_dm2, area_text


@pytest.mark.parametrize(
    ("written", "dm2"),
    [
        ("100 cm2", 1.0),
        ("100cm\u00b2", 1.0),
        ("2.5 dm2", 2.5),
        ("2,5 dm", 2.5),
        # 1 in = 2.54 cm exactly: 144 square inches are one square foot, 9.290304 dm2
        # (international yard and pound agreement of 1959, from memory).
        ("144 in2", 9.290304),
        ("0.05 m2", 5.0),
        (" .5 DM2 ", 0.5),
    ],
)
def test_an_area_is_read_in_the_units_of_the_trade(written: str, dm2: float) -> None:
    assert area_dm2(written) == pytest.approx(dm2, rel=1e-9)


@pytest.mark.parametrize(
    "written", ["", "12", "cm2", "-3 dm2", "0 dm2", "1e9 m2", "5 ft2", "1.2.3 dm2"]
)
def test_what_is_no_area_is_not_guessed_at(written: str) -> None:
    assert area_dm2(written) is None


@given(st.floats(min_value=0.001, max_value=999.0))
def test_an_area_in_words_is_read_back_to_three_digits(dm2: float) -> None:
    assert area_dm2(area_text(dm2)) == pytest.approx(dm2, rel=0.006)
