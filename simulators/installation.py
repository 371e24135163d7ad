"""What stands at the far end of one wire: supplies, their protocol, and the rate of the line."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from simulators.exchange import End
from simulators.line_rate import LineRate
from simulators.lines_end import LinesEnd, LinesSupply
from simulators.link import Link
from simulators.link_pty import PtyLink
from simulators.link_tcp import TcpLink
from simulators.meters import Meters
from simulators.modbus_end import ModbusRtuEnd, ModbusTcpEnd
from simulators.modbus_unit import ModbusUnit
from simulators.register_map import RegisterMap, load_map
from simulators.rig import Rig
from simulators.scene import Scene
from simulators.scpi_end import ScpiEnd
from simulators.scpi_supply import ScpiSupply
from simulators.speech import Speech, load_speech

# By the word for each link: its protocol's name in an address.
LINKS = {
    "scpi-tcp": "scpi",
    "scpi-serial": "scpi",
    "modbus-tcp": "modbus",
    "modbus-rtu": "modbus",
    "lines-tcp": "lines",
    "lines-serial": "lines",
}
REGISTERS = "supply-uint16"
SPEECH = "asks-apart"


@dataclass(frozen=True, slots=True)
class Installation:
    """What hangs on one wire.

    Parameters
    ----------
    link
        One of `LINKS`.
    number
        Of the supply, in its identity; units on one wire count on from there.
    units
        Unit numbers on a Modbus wire, each a supply of its own with the scene's next seed.
    mute_units
        Those of them that never answer.
    registers
        What stands where, for Modbus; a map, its name, or a file.
    speech
        How it talks, for lines; a speech, its name, or a file.
    is_tagged
        Every value tells whose it is, see `simulators.tags`.
    is_gateway
        On Modbus TCP: exceptions 0A and 0B for units that cannot answer.
    terminator
        What SCPI answers end with.
    baud
        Bytes go and come at the rate of such a line; as fast as can be if None.
    """

    link: str = "scpi-tcp"
    number: int = 1
    units: tuple[int, ...] = (1,)
    mute_units: tuple[int, ...] = ()
    registers: RegisterMap | str = REGISTERS
    speech: Speech | str = SPEECH
    is_tagged: bool = False
    is_gateway: bool = False
    terminator: bytes = b"\n"
    baud: int | None = None

    @property
    def is_modbus(self) -> bool:
        """Whether it has units."""
        return LINKS[self.link] == "modbus"

    def rigs(self, scene: Scene, seed: int | None = None) -> list[Rig]:
        """The rigs of all its supplies, in the order of `units`."""
        first = scene.seed if seed is None else seed
        return [
            Rig(scene, first + number) for number in range(len(self.units) if self.is_modbus else 1)
        ]

    def open_link(self, port: int = 0, link_name: Path | None = None) -> Link:
        """Open its transport.

        Raises
        ------
        CannotServe
            Where it cannot be opened.
        """
        return TcpLink(port) if self.link.endswith("-tcp") else PtyLink(link_name)

    def addresses(self, link: Link) -> list[str]:
        """The address of each supply, in the order of `units`."""
        address = f"{LINKS[self.link]}:{link.address}"
        return [f"{address}?unit={unit}" for unit in self.units] if self.is_modbus else [address]

    def rate(self) -> LineRate | None:
        """The line's rate: 8E1 and silences between frames for Modbus RTU, else 8N1."""
        if self.baud is None:
            return None
        is_rtu = self.link == "modbus-rtu"
        return LineRate(self.baud, 11 if is_rtu else 10, is_rtu)

    def make_end(self, rigs: list[Rig]) -> Callable[[], End]:
        """What makes the end of each port: the same supplies behind them all.

        Raises
        ------
        FormError
            For registers or a speech that cannot be used.
        """
        if self.is_modbus:
            return self._modbus(rigs)
        meters = Meters(rigs[0], self.number, is_tagged=self.is_tagged)
        if LINKS[self.link] == "lines":
            speech = load_speech(self.speech) if isinstance(self.speech, str) else self.speech
            supply = LinesSupply(speech, meters, self.number)
            return lambda: LinesEnd(supply)
        instrument = ScpiSupply(rigs[0], rigs[0].scene.supply.identity(self.number), meters)
        return lambda: ScpiEnd(instrument, self.terminator)

    def _modbus(self, rigs: list[Rig]) -> Callable[[], End]:
        registers = load_map(self.registers) if isinstance(self.registers, str) else self.registers
        units = {
            unit: ModbusUnit(
                registers,
                Meters(rig, unit, is_tagged=self.is_tagged),
                self.number + number,
                is_mute=unit in self.mute_units,
            )
            for number, (unit, rig) in enumerate(zip(self.units, rigs, strict=True))
        }
        if self.link == "modbus-rtu":
            return lambda: ModbusRtuEnd(units)
        return lambda: ModbusTcpEnd(units, is_gateway=self.is_gateway)
