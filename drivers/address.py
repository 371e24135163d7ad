"""The address of a supply: which driver, which port or host, which options.

`scpi:/dev/ttyUSB0?baud=9600`, `scpi:tcp://10.0.0.7:5025`, `modbus:/dev/ttyUSB0?unit=1`,
`modbus:tcp://10.0.0.7:502?unit=1`, `lines:/dev/ttyUSB0`, `visa:TCPIP::10.0.0.7::INSTR`,
`usbtmc:/dev/usbtmc0`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import parse_qsl, urlsplit

from drivers.errors import BadAddress

MESSAGE_DRIVERS = ("visa", "usbtmc")
"""Drivers that reach an instrument by whole messages, and speak SCPI with it."""
CURE = "write it like scpi:/dev/ttyUSB0?baud=9600 or scpi:tcp://10.0.0.7:5025"


@dataclass(frozen=True, slots=True)
class Address:
    """Where one supply is.

    Parameters
    ----------
    text
        The address as the user wrote it.
    driver
        Name of the driver, such as "scpi".
    path
        The serial port, USBTMC's device or VISA's name; None for a network address.
    host, port
        The network address, or None and None for a serial port.
    options
        What stands behind the question mark, such as {"baud": "9600"}.
    """

    text: str
    driver: str
    path: str | None = None
    host: str | None = None
    port: int | None = None
    options: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_serial(self) -> bool:
        """Whether it is a serial port."""
        return self.path is not None and self.driver not in MESSAGE_DRIVERS

    @property
    def kind(self) -> str:
        """The kind of description that it goes with, such as "scpi"."""
        return "scpi" if self.driver in MESSAGE_DRIVERS else self.driver


def parse_address(text: str) -> Address:
    """Understand a supply's address.

    Raises
    ------
    BadAddress
        With the cure, where the text is not an address.

    Examples
    --------
    >>> a = parse_address("scpi:/dev/ttyUSB0?baud=9600")
    >>> a.driver, a.path, dict(a.options)
    ('scpi', '/dev/ttyUSB0', {'baud': '9600'})
    >>> a = parse_address("modbus:tcp://10.0.0.7:502?unit=1")
    >>> a.host, a.port, a.options["unit"]
    ('10.0.0.7', 502, '1')
    """
    driver, colon, rest = text.partition(":")
    if not colon or not driver.isidentifier() or not rest:
        raise BadAddress(f"{text!r} is not a supply's address: {CURE}")
    place, _, query = rest.partition("?")
    try:
        pairs = parse_qsl(query, keep_blank_values=True, strict_parsing=bool(query))
    except ValueError:
        raise BadAddress(f"{text!r}: cannot read {query!r}: {CURE}") from None
    options = dict(pairs)
    if len(options) != len(pairs):
        raise BadAddress(f"{text!r}: an option is given twice: {CURE}")
    if not place.startswith("tcp://"):
        if "://" in place or not place:
            raise BadAddress(f"{text!r}: only serial ports and tcp:// are known: {CURE}")
        return Address(text, driver, path=place, options=options)
    try:
        split = urlsplit(place)
        host, port = split.hostname, split.port
    except ValueError:
        raise BadAddress(f"{text!r}: the port must be 1 to 65535: {CURE}") from None
    if not host or not port or split.path or split.username is not None:
        raise BadAddress(f"{text!r}: needs a host and a port: {CURE}")
    return Address(text, driver, host=host, port=port, options=options)
