"""The operator's way to the supply: the warning looks at least so far ahead."""

import pytest

from monitor.settings.bench import ForecastSettings


@pytest.mark.parametrize(
    ("given", "ahead_s"),
    [
        ({}, 120.0),
        ({"reaction_s": 240.0}, 240.0),
        ({"horizon_s": 300.0, "reaction_s": 60.0}, 300.0),
    ],
)
def test_a_warning_looks_as_far_ahead_as_the_operator_needs(
    given: dict[str, float], ahead_s: float
) -> None:
    assert ForecastSettings(**given).ahead_s == ahead_s
