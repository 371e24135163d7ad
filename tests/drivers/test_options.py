"""The options of an address: what they can be, and what is said about the others."""

import pytest

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import DriverSetUp
from drivers.errors import BadAddress
from drivers.link.serial_link import SerialLink
from drivers.link.serial_settings import SerialSettings
from drivers.link.tcp_link import TcpLink
from drivers.options import LinkOptions, read_options
from drivers.scpi.scpi import ScpiDriver, open_scpi


def options_of(text: str, **settings: str) -> LinkOptions:
    set_up = DriverSetUp(parse_address(text), SystemClock(), options=settings)
    return read_options(set_up, SerialSettings(), own=("serial",))


def test_a_serial_port_is_9600_8n1_unless_said_otherwise() -> None:
    link = options_of("scpi:/dev/ttyUSB0").link
    assert isinstance(link, SerialLink)
    assert link.settings == SerialSettings(9600, "none", 1, 8, "leave", "leave")
    assert link.place == "/dev/ttyUSB0"


def test_every_option_of_a_serial_port_is_taken() -> None:
    text = "scpi:/dev/x?baud=19200&parity=E&stop_bits=2&data_bits=7&dtr=low&rts=high"
    options = options_of(f"{text}&timeout=0.25&quiet_ms=50&description=a.toml&serial=A1")
    assert isinstance(options.link, SerialLink)
    assert options.link.settings == SerialSettings(19200, "even", 2, 7, "low", "high")
    assert options.timeout_s == 0.25
    assert options.quiet_s == 0.05
    assert (options.given["description"], options.given["serial"]) == ("a.toml", "A1")


def test_the_address_goes_before_the_settings() -> None:
    link = options_of("scpi:/dev/x?baud=19200", baud="4800", parity="odd").link
    assert isinstance(link, SerialLink)
    assert link.settings.words == "19200 baud 8O1"


def test_a_network_address_makes_a_tcp_link() -> None:
    options = options_of("scpi:tcp://10.0.0.7:5025?timeout=1")
    assert isinstance(options.link, TcpLink)
    assert options.link.place == "10.0.0.7:5025"
    assert options_of("scpi:tcp://[::1]:5025").link.place == "[::1]:5025"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("scpi:/dev/x?buad=9600", "did you mean 'baud'"),
        ("scpi:/dev/x?stopbits=1", "did you mean 'stop_bits'"),
        ("scpi:/dev/x?unit=1", "unknown option 'unit'"),
        ("scpi:tcp://10.0.0.7:5025?baud=9600", "only for a serial port"),
        ("scpi:/dev/x?baud=fast", "a number such as 9600"),
        ("scpi:/dev/x?baud=-9600", "a number such as 9600"),
        ("scpi:/dev/x?baud=1e4", "a number such as 9600"),
        ("scpi:/dev/x?baud=", "a number such as 9600"),
        ("scpi:/dev/x?baud=" + "9" * 5000, "a number such as 9600"),
        ("scpi:/dev/x?parity=mark", "none, even or odd"),
        ("scpi:/dev/x?stop_bits=1.5", "1 or 2"),
        ("scpi:/dev/x?data_bits=9", "7 or 8"),
        ("scpi:/dev/x?dtr=pulse", "leave, low or high"),
        ("scpi:/dev/x?timeout=0", "from 0.01 to 30"),
        ("scpi:/dev/x?timeout=nan", "from 0.01 to 30"),
        ("scpi:/dev/x?timeout=soon", "from 0.01 to 30"),
        ("scpi:/dev/x?quiet_ms=0", "from 1 to 5000"),
    ],
)
def test_what_cannot_be_used_is_told_with_the_address(text: str, says: str) -> None:
    with pytest.raises(BadAddress) as caught:
        options_of(text)
    assert says in str(caught.value)
    assert text in str(caught.value)


@pytest.mark.parametrize(
    ("text", "given_s", "timeout_s"),
    [
        ("scpi:/dev/x", 0.5, 0.5),
        ("scpi:/dev/x", 1.5, 1.5),
        ("scpi:/dev/x?timeout=0.2", 0.5, 0.2),
    ],
)
def test_the_time_out_in_the_address_goes_before_the_settings(
    text: str, given_s: float, timeout_s: float
) -> None:
    driver = open_scpi(DriverSetUp(parse_address(text), SystemClock(), timeout_s=given_s))
    assert isinstance(driver, ScpiDriver)
    assert driver.conversation.timeout_s == timeout_s
