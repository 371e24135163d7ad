"""What tests in several rooms of `monitor` ask for by name."""

import pytest

from tests.monitor.store.bench import Connections


@pytest.fixture
def connections(monkeypatch: pytest.MonkeyPatch) -> Connections:
    """Every connection to a store that is opened from now on."""
    return Connections(monkeypatch)
