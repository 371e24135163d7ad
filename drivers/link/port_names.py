"""Finds the device behind the name of a port.

Names that stay the same while an adapter is pulled out and plugged in again: /dev/serial/by-id,
/dev/serial/by-path, `usb:VID:PID[:INTERFACE]`, or a link of one's own. Rules, each with its test:

1. The name is looked up at each opening, never before.
2. A link is followed. One by id that two adapters share is refused: it may lead to either.
3. `usb:` names the one adapter with these numbers; where there are several, none is taken.
4. A plain name such as /dev/ttyUSB0 means, after its first opening, the adapter that was there
   then: found again by what it says of itself and its USB socket, else, where it had no twin, as
   the only one that looks so. Another adapter under the same name is refused.
5. All names of one port lead to one line; the name that was given stays for the next opening.
"""

import os
import re
from dataclasses import dataclass
from pathlib import Path

from drivers.address import Address
from drivers.errors import BadAddress, DriverError, PortMissing
from drivers.link.ports import ROOT, Adapter, SerialPort, list_serial_ports

_USB = re.compile(r"usb:([0-9a-f]{4}):([0-9a-f]{4})(?::([0-9]{1,2}))?", re.IGNORECASE | re.ASCII)
_BY_ID = "/dev/serial/by-id/"


@dataclass(slots=True)
class PortName:
    """One port's name.

    Parameters
    ----------
    name
        As the address gives it.
    root
        Where /dev and /sys are.
    """

    name: str
    root: Path = ROOT
    _met: Adapter | None = None
    _had_twins: bool = False

    def look_up(self) -> str:
        """The path to open now.

        Raises
        ------
        PortMissing
            Where the adapter is not plugged in.
        BadAddress
            Where the name could mean several.
        """
        if self.name.startswith("usb:"):
            return self._path(self._by_numbers(list_serial_ports(self.root)).device)
        if self.name.startswith(_BY_ID):
            self._refuse_shared()
        elif self._met is not None:
            return self._path(self._again(self._met, list_serial_ports(self.root)).device)
        return self._path(self.name)

    def leads_to(self) -> str | None:
        """The device behind the name at this moment, the same for all names of one port.

        None where the name leads nowhere now, or might lead to several.
        """
        try:
            return os.path.realpath(self.look_up())
        except DriverError:
            return None

    def remember(self) -> None:
        """The port was opened: a plain name means this adapter from now on."""
        if self._met is None:
            for port in list_serial_ports(self.root):
                if port.device == self.name:
                    self._met, self._had_twins = port.adapter, bool(port.twins)

    def _path(self, name: str) -> str:
        """The file behind a name: /dev is in the root, other folders are as they are."""
        if self.root == ROOT or not name.startswith("/dev/"):
            return name
        return str(self.root / name[1:])

    def _by_numbers(self, ports: tuple[SerialPort, ...]) -> SerialPort:
        match = _USB.fullmatch(self.name)
        if match is None:
            raise BadAddress(
                f"{self.name} is not a port: write it like usb:1a86:7523, two numbers of four "
                "hexadecimal digits, or usb:1a86:7523:1 for an adapter's second port"
            )
        wanted = (match[1].lower(), match[2].lower())
        matching = [
            port
            for port in ports
            if port.adapter is not None
            and (port.adapter.vendor, port.adapter.product) == wanted
            and match[3] in (None, str(port.adapter.interface))
        ]
        if not matching:
            there = ", ".join(sorted({p.adapter.usb for p in ports if p.adapter is not None}))
            raise PortMissing(
                f"{self.name}: no adapter with these numbers is plugged in; plugged in are: "
                f"{there or 'none'}. Plug it in, or correct the supply's address"
            )
        if len(matching) > 1:
            raise self._several(matching)
        return matching[0]

    def _refuse_shared(self) -> None:
        for port in list_serial_ports(self.root):
            if self.name in port.by_id and port.twins:
                ports = list_serial_ports(self.root)
                raise self._several([each for each in ports if each.device in port.twins] + [port])

    def _again(self, met: Adapter, ports: tuple[SerialPort, ...]) -> SerialPort:
        alike = [
            (port, port.adapter.socket)
            for port in ports
            if port.adapter is not None and port.adapter.looks == met.looks
        ]
        at_its_socket = [port for port, socket in alike if socket == met.socket]
        if len(at_its_socket) == 1:
            return at_its_socket[0]
        if len(alike) == 1 and not self._had_twins:
            return alike[0][0]
        if len(alike) > 1:
            raise self._several([port for port, _ in alike])
        under_its_name = next((p for p in ports if p.device == self.name), None)
        absence = (
            f"{self.name} is now another adapter" if under_its_name else "it is not plugged in"
        )
        serial = f", serial number {met.serial}" if met.serial else ""
        raise PortMissing(
            f"{self.name}: this run began with the adapter {met.usb} in USB socket {met.socket}"
            f"{serial}; {absence}. Plug the first one in, or correct the supply's address and "
            "begin a new run"
        )

    def _several(self, ports: list[SerialPort]) -> BadAddress:
        names = sorted(port.by_path[0] if port.by_path else port.device for port in ports)
        return BadAddress(
            f"{self.name}: several adapters that look the same are plugged in, so this name may "
            f"mean any of them; name the port by its USB socket: {' or '.join(names)}"
        )


def line_of(address: Address, root: Path = ROOT) -> str:
    """The line that an address leads to at this moment: one text for all names of one port.

    Examples
    --------
    >>> from drivers.address import parse_address
    >>> line_of(parse_address("modbus:tcp://10.0.0.7:502?unit=2"))
    '10.0.0.7:502'
    """
    if address.path is None:
        return f"{address.host}:{address.port}"
    return PortName(address.path, root).leads_to() or address.path
