"""After every test of the drivers: each byte that any supply received was a question."""

import re
from collections.abc import Iterator

import pytest

from tests.drivers.fake_registers import EVERY_UNIT
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
    b"SN",
    b"READ",
    b"V?",
    b"I?",
}
"""Typed by hand, not taken from the driver."""


@pytest.fixture(autouse=True)
def _only_questions_were_sent() -> Iterator[None]:
    EVERY_SUPPLY.clear()
    EVERY_UNIT.clear()
    yield
    for supply in EVERY_SUPPLY:
        # Where the end of a question is still to be found, some trials end in nothing.
        assert supply.unfinished.replace(b"*IDN?", b"") == b""
        for received in supply.received:
            message = re.sub(rb"(\*IDN\?)+", b"*IDN?", received)
            assert {part.lstrip(b":") for part in message.split(b";")} <= ON_THE_LIST, message
    for unit in EVERY_UNIT:
        assert unit.unfinished == b""
        for frame in unit.received:
            # Modbus Application Protocol V1.1b3, 6.3 and 6.4: functions 3 and 4 only read.
            assert unit.is_question(frame), frame.hex(" ")
