"""Every edge that takes bytes or text, with a few draws; `make fuzz` makes millions."""

import pytest
from hypothesis import HealthCheck, given, settings

from benchmarks.fuzz import EDGES
from benchmarks.fuzz_edges import Edge


@pytest.mark.parametrize("edge", EDGES, ids=lambda edge: edge.name)
def test_nothing_that_comes_in_breaks_an_edge(edge: Edge) -> None:
    rules = settings(max_examples=20, suppress_health_check=list(HealthCheck))
    rules(given(edge.draws)(edge.check))()
