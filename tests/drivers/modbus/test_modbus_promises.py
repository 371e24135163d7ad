"""Our Modbus driver against the promises: RTU on a pseudo-terminal, TCP, and RTU over TCP."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.modbus.modbus import open_modbus
from drivers.promises import PROMISES, TIMEOUT_S, Promise
from tests.drivers.fake_end import FakeEnd, PtyEnd, TcpEnd
from tests.drivers.fake_registers import DESCRIPTION, FakeRegisters


@pytest.fixture(params=["rtu", "tcp", "rtu-over-tcp"])
def end(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FakeEnd]:
    description = tmp_path / "supply.toml"
    description.write_text(DESCRIPTION)
    unit = FakeRegisters(is_tcp=request.param == "tcp", late_s=1.5 * TIMEOUT_S)
    made = PtyEnd(unit, tmp_path / "port") if request.param == "rtu" else TcpEnd(unit)
    made.driver = "modbus"
    made.options = f"?quiet_ms=10&description={description}"
    if request.param == "rtu-over-tcp":
        made.options += "&framing=rtu"
    with made:
        yield made


@pytest.mark.parametrize("promise", PROMISES, ids=str)
def test_the_modbus_driver_keeps_its_promises(promise: Promise, end: FakeEnd) -> None:
    promise.check(open_modbus, end)
