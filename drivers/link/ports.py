"""The serial ports of this machine, from /sys and /dev; no port is opened.

Linux only; elsewhere nothing is found here, and names are taken as they are.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from drivers.base.inert import inert

ROOT = Path("/")
_NO_CHIP = "0"  # /sys/class/tty/ttyS*/type of a place on the board where no port is
_SERIAL_BUS = {"port", "ctrl"}  # newer kernels put these two between a port and its driver


@dataclass(frozen=True, slots=True)
class Adapter:
    """The USB adapter that a port belongs to.

    Parameters
    ----------
    vendor, product
        The numbers of USB, four hexadecimal digits each.
    interface
        Which of the adapter's ports, as `usb:VID:PID:INTERFACE` counts them.
    serial, maker, words
        What the adapter says of itself; None where it does not say.
    socket
        The USB socket that it is plugged into, such as "1-1.4".
    """

    vendor: str
    product: str
    interface: int
    serial: str | None
    maker: str | None
    words: str | None
    socket: str

    @property
    def usb(self) -> str:
        """Its name by numbers, such as "usb:1a86:7523:0"."""
        return f"usb:{self.vendor}:{self.product}:{self.interface}"

    @property
    def looks(self) -> tuple[str | int | None, ...]:
        """All that a by-id name is made of: adapters that look alike share one."""
        return (self.vendor, self.product, self.interface, self.serial, self.maker, self.words)


@dataclass(frozen=True, slots=True)
class SerialPort:
    """One serial port.

    Parameters
    ----------
    device
        Its name of the moment, such as "/dev/ttyUSB0".
    driver
        What the system drives it with, such as "ftdi_sio"; None where it does not say.
    by_id, by_path
        Its stable names, by what the adapter is and by where it is plugged in.
    adapter
        None for a port on the board.
    twins
        Names of other ports whose adapters look the same, so that by-id cannot tell them apart.
    """

    device: str
    driver: str | None
    by_id: tuple[str, ...] = ()
    by_path: tuple[str, ...] = ()
    adapter: Adapter | None = None
    twins: tuple[str, ...] = ()

    @property
    def best_name(self) -> str:
        """The name to write into a supply's address."""
        names = (*(() if self.twins else self.by_id), *self.by_path)
        if names:
            return names[0]
        if self.adapter is not None and not self.twins:
            return self.adapter.usb
        return self.device

    @property
    def words(self) -> str:
        """What the port is, for people."""
        if self.adapter is None:
            return "a port of this machine's own board"
        parts = [part for part in (self.adapter.maker, self.adapter.words) if part]
        return " ".join(parts) or "a USB adapter that does not say what it is"


def list_serial_ports(root: Path = ROOT) -> tuple[SerialPort, ...]:
    """Every serial port that the system knows, in the order of their names.

    Parameters
    ----------
    root
        Where /dev and /sys are.
    """
    ports = sorted(_found(root), key=lambda port: (len(port.device), port.device))
    return tuple(_with_twins(port, ports) for port in ports)


def _found(root: Path) -> Iterator[SerialPort]:
    by_id = _links(root, "by-id")
    by_path = _links(root, "by-path")
    for entry in _entries(root / "sys/class/tty"):
        device = entry / "device"
        if not device.exists() or _text(entry / "type") == _NO_CHIP:
            continue
        yield SerialPort(
            device=f"/dev/{entry.name}",
            driver=_driver(device),
            by_id=by_id.get(entry.name, ()),
            by_path=by_path.get(entry.name, ()),
            adapter=_adapter(device.resolve(), root.resolve()),
        )


def _with_twins(port: SerialPort, all_ports: list[SerialPort]) -> SerialPort:
    adapter = port.adapter
    if adapter is None:
        return port
    twins = tuple(
        twin.device
        for twin in all_ports
        if twin is not port and twin.adapter is not None and twin.adapter.looks == adapter.looks
    )
    return SerialPort(port.device, port.driver, port.by_id, port.by_path, adapter, twins)


def _links(root: Path, kind: str) -> dict[str, tuple[str, ...]]:
    """The stable names of one kind, by the last part of the port's name of the moment."""
    names: dict[str, tuple[str, ...]] = {}
    for link in _entries(root / "dev/serial" / kind):
        try:
            leads_to = link.readlink().name
        except OSError:
            continue
        names[leads_to] = (*names.get(leads_to, ()), f"/dev/serial/{kind}/{link.name}")
    return names


def _driver(device: Path) -> str | None:
    for place in (device, *device.resolve().parents[:3]):
        link = place / "driver"
        if link.exists() and link.resolve().name not in _SERIAL_BUS:
            return link.resolve().name
    return None


def _adapter(device: Path, root: Path) -> Adapter | None:
    interface: int | None = None
    for place in (device, *device.parents):
        if not place.is_relative_to(root / "sys"):
            break
        if interface is None and (number := _text(place / "bInterfaceNumber")) is not None:
            interface = _hexadecimal(number)
        vendor, product = _text(place / "idVendor"), _text(place / "idProduct")
        if vendor is not None and product is not None:
            port_number = _text(device / "port_number") or "0"
            several = int(port_number) if port_number.isdigit() else 0
            return Adapter(
                vendor=vendor.lower(),
                product=product.lower(),
                interface=(interface or 0) + several,
                serial=_text(place / "serial"),
                maker=_text(place / "manufacturer"),
                words=_text(place / "product"),
                socket=place.name,
            )
    return None


def _hexadecimal(text: str) -> int | None:
    try:
        return int(text, 16)
    except ValueError:
        return None


def _entries(folder: Path) -> list[Path]:
    try:
        return sorted(folder.iterdir())
    except OSError:
        return []


def _text(file: Path) -> str | None:
    """What stands in a file of /sys, made safe to show; None for nothing."""
    try:
        return inert(file.read_text(encoding="utf-8", errors="replace").strip()) or None
    except OSError:
        return None
