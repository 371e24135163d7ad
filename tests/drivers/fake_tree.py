"""A made-up /dev and /sys with serial ports in it, laid out as Linux does, for a test's folder.

The layout is that of `udevadm info` and /sys on a Linux 6 machine with USB serial adapters (common
practice, no source): /sys/class/tty/ttyUSB0 leads to the device, its `device` to the USB port,
above it the interface with bInterfaceNumber, above that the adapter with idVendor and idProduct.
"""

from dataclasses import dataclass
from pathlib import Path


@dataclass
class FakeTree:
    """One machine's /dev and /sys below `root`."""

    root: Path

    def __post_init__(self) -> None:
        (self.root / "sys/class/tty/tty0").mkdir(parents=True)
        (self.root / "dev").mkdir()

    @property
    def tty(self) -> Path:
        return self.root / "sys/class/tty"

    def board_port(self, name: str, chip: int) -> None:
        device = self.root / "sys/devices/platform/serial8250"
        (self.root / "sys/bus/platform/drivers/serial8250").mkdir(parents=True, exist_ok=True)
        device.mkdir(parents=True, exist_ok=True)
        self.link(device / "driver", self.root / "sys/bus/platform/drivers/serial8250")
        folder = self.tty / name
        folder.mkdir()
        (folder / "type").write_text(f"{chip}\n")
        self.link(folder / "device", device)

    def plug_in(
        self,
        name: str,
        socket: str = "1-2",
        vendor: str = "1a86",
        product: str = "7523",
        serial: str | None = None,
        interface: int = 0,
        words: str = "USB Serial",
        leads_to: str | None = None,
    ) -> None:
        """An adapter; `leads_to` is the pseudo-terminal that its port really is."""
        usb = self.root / "sys/devices/pci0/usb1" / socket
        port = usb / f"{socket}:1.{interface}" / name
        driver = self.root / "sys/bus/usb-serial/drivers/ch341-uart"
        for folder in (port, driver, self.tty):
            folder.mkdir(parents=True, exist_ok=True)
        (usb / "idVendor").write_text(f"{vendor}\n")
        (usb / "idProduct").write_text(f"{product}\n")
        (usb / "product").write_text(f"{words}\n")
        if serial is not None:
            (usb / "serial").write_text(f"{serial}\n")
        (port.parent / "bInterfaceNumber").write_text(f"{interface:02x}\n")
        self.link(port / "driver", driver)
        entry = port / "tty" / name
        entry.mkdir(parents=True)
        self.link(entry / "device", port)
        self.link(self.tty / name, entry)
        by_id = f"usb-{vendor}_{words.replace(' ', '_')}{f'_{serial}' if serial else ''}"
        for kind, stable in (
            ("by-id", f"{by_id}-if{interface:02d}-port0"),
            ("by-path", f"pci-0-usb-0:{socket}:1.{interface}-port0"),
        ):
            folder = self.root / "dev/serial" / kind
            folder.mkdir(parents=True, exist_ok=True)
            self.link(folder / stable, Path("../..") / name)
        if leads_to is not None:
            self.link(self.root / "dev" / name, Path(leads_to))

    def pull_out(self, name: str) -> None:
        entry = (self.tty / name).resolve()
        usb = next(place for place in entry.parents if (place / "idVendor").exists())
        (self.tty / name).unlink()
        for file in ("idVendor", "idProduct", "product", "serial"):
            (usb / file).unlink(missing_ok=True)
        for place in sorted(usb.rglob("*"), reverse=True):
            place.unlink() if place.is_symlink() or place.is_file() else place.rmdir()
        usb.rmdir()
        for kind in ("by-id", "by-path"):
            for stable in (self.root / "dev/serial" / kind).iterdir():
                if stable.readlink().name == name:
                    stable.unlink()
        (self.root / "dev" / name).unlink(missing_ok=True)

    def link(self, link: Path, to: Path) -> None:
        link.unlink(missing_ok=True)
        link.symlink_to(to)
