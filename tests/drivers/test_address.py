"""Addresses as people write them."""

import pytest

from drivers.address import parse_address
from drivers.errors import BadAddress


@pytest.mark.parametrize(
    ("text", "driver", "path", "host", "port"),
    [
        ("scpi:/dev/ttyUSB0?baud=9600", "scpi", "/dev/ttyUSB0", None, None),
        ("lines:COM12", "lines", "COM12", None, None),
        ("scpi:/dev/serial/by-id/usb-A", "scpi", "/dev/serial/by-id/usb-A", None, None),
        ("scpi:tcp://10.0.0.7:5025", "scpi", None, "10.0.0.7", 5025),
        ("modbus:tcp://supply.local:502?unit=1", "modbus", None, "supply.local", 502),
        ("scpi:tcp://[fe80::1]:5025", "scpi", None, "fe80::1", 5025),
    ],
)
def test_an_address_is_understood(
    text: str, driver: str, path: str | None, host: str | None, port: int | None
) -> None:
    address = parse_address(text)
    assert (address.driver, address.path, address.host, address.port) == (driver, path, host, port)
    assert address.text == text


@pytest.mark.parametrize(
    "text",
    [
        "",
        "/dev/ttyUSB0",
        "scpi",
        "scpi:",
        ":x",
        "scpi:?baud=9600",
        "scpi:udp://10.0.0.7:5",
        "scpi:tcp://10.0.0.7",
        "scpi:tcp://10.0.0.7:70000",
        "scpi:tcp://10.0.0.7:0",
        "scpi:tcp://:5025",
        "scpi:tcp://user@10.0.0.7:5025",
        "scpi:tcp://10.0.0.7:5025/path",
        "scpi:/dev/x?baud",
        "scpi:/dev/x?baud=1&baud=2",
    ],
)
def test_what_is_not_an_address_is_told_how_to_write_one(text: str) -> None:
    with pytest.raises(BadAddress, match="write it like"):
        parse_address(text)
