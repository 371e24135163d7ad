"""After every test: each byte that any scripted supply received was a question.

The simulators put on record themselves what is no question; where they are used, that is looked at.
"""

import os
import re
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.drivers.fake_registers import EVERY_UNIT, FakeRegisters
from tests.drivers.fake_supply import EVERY_SUPPLY
from tests.monitor.setup.commission.ends import EVERY_TABLE, RegisterSupply

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
    # What is tried to find out to which questions a supply answers.
    b"READ?",
    b"MEAS?",
    b"VOUT?",
    b"IOUT?",
    b"MEAS:VOLT? (@1)",
    b"MEAS:CURR? (@1)",
    b"MEAS:VOLT? CH1",
    b"MEAS:CURR? CH1",
    b"MEAS:VOLT? 1",
    b"MEAS:CURR? 1",
    b"MEASURE:VOLTAGE?",
    b"MEASURE:CURRENT?",
    b"MEAS:VOLT:DC?",
    b"MEAS:CURR:DC?",
    b"MEASURE:VOLTAGE:DC?",
    b"MEASURE:CURRENT:DC?",
    b":FETC:VOLT?",
    b":FETC:CURR?",
    b"MEAS1:VOLT?",
    b"MEAS1:CURR?",
    b"VOUT1?",
    b"IOUT1?",
    b"V1O?",
    b"I1O?",
    b"U?",
    b"DATA?",
    b"VOLT?",
    b"CURR?",
}
"""Typed by hand, not taken from the driver."""
ONLY_QUESTIONS = re.compile(
    rb"(?::?(?:" + b"|".join(re.escape(one) for one in sorted(ON_THE_LIST)) + rb")[;\r\n]*)*"
)


# An example that takes long says something of the machine, not of the code.
settings.register_profile("untimed", deadline=None)
if not os.environ.get("CI"):
    settings.load_profile(
        "untimed"
    )  # CI has a profile of its own: untimed, the same draws each time


def pytest_configure() -> None:
    if os.environ.get("CI") and os.environ.get("BATHVIGIL_REDRAW"):
        raise pytest.UsageError(
            "BATHVIGIL_REDRAW makes what is kept agree with what is drawn: not where CI is set"
        )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    # Tests of whole processes mostly wait: begun first, they leave the processors to the others.
    # xdist would begin with the files that have most tests: --no-loadscope-reorder.
    items.sort(key=lambda item: "whole" not in item.path.parts)


@pytest.fixture(autouse=True)
def _only_questions_were_sent() -> Iterator[None]:
    EVERY_SUPPLY.clear()
    EVERY_UNIT.clear()
    EVERY_TABLE.clear()
    yield
    for supply in EVERY_SUPPLY:
        # Where the end of a question is still to be found, several come without one.
        for received in (*supply.received, supply.unfinished):
            assert ONLY_QUESTIONS.fullmatch(received), received
    units: list[FakeRegisters | RegisterSupply] = [*EVERY_UNIT, *EVERY_TABLE]
    for unit in units:
        assert unit.unfinished == b""
        for frame in unit.received:
            # Modbus Application Protocol V1.1b3, 6.3 and 6.4: functions 3 and 4 only read.
            assert unit.is_question(frame), frame.hex(" ")
