"""After every test of the drivers: each byte that any supply received was a question."""

from collections.abc import Iterator

import pytest

from tests.drivers.fake_supply import EVERY_SUPPLY

ON_THE_LIST = {
    b"*IDN?",
    b"MEAS:VOLT?",
    b"MEAS:CURR?",
    b"MEAS:TEMP?",
    b"STAT:QUES:COND?",
    b"STAT:OPER:COND?",
    b"OUTP?",
    b"SYST:ERR?",
    b"SYST:VERS?",
    b"NO:SUCH?",
}
"""Typed by hand, not taken from the driver."""


@pytest.fixture(autouse=True)
def _only_questions_were_sent() -> Iterator[None]:
    EVERY_SUPPLY.clear()
    yield
    for supply in EVERY_SUPPLY:
        assert supply.unfinished == b""
        for message in supply.received:
            assert {part.lstrip(b":") for part in message.split(b";")} <= ON_THE_LIST, message
