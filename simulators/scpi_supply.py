"""The SCPI-1999 commands and questions of a DC supply.

The commands of IEEE 488.2 and SCPI-1999 without those that enable summary bits, and of the DC
supply what vol. 4 asks for: measuring, output, level and protection. It obeys, as a real supply
would.
"""

from collections.abc import Callable

from simulators.meters import Meters
from simulators.rig import Rig
from simulators.scpi_status import ScpiStatus
from simulators.scpi_words import (
    Header,
    ScpiError,
    decimals,
    limits,
    number,
    spellings,
    truth_value,
)
from simulators.supply import Protection

VERSION = "1999.0"

Answer = str | None
Deed = Callable[[list[str]], Answer]


class ScpiSupply:
    """The instrument behind the links: one rig, its status, and what may be asked of it.

    Parameters
    ----------
    rig
        The scene being played.
    identity
        Answer to *IDN?, four fields with commas between.
    meters
        What it measures with; the rig's own if None.
    """

    def __init__(self, rig: Rig, identity: str, meters: Meters | None = None) -> None:
        self.rig = rig
        self.meters = Meters(rig) if meters is None else meters
        self.posing_as: str | None = None
        self.status = ScpiStatus(rig.supply)
        self._identity = identity
        plate = rig.scene.supply
        self._volts_places = decimals(self.meters.step("volts"))
        self._amps_places = decimals(self.meters.step("amps"))
        self._most_amps = max(plate.amps_max, plate.limit_amps)
        self._volts_protection = self._most_volts_protection = round(1.1 * plate.volts_max, 3)
        self._deeds: dict[Header, Deed] = {}
        self._fill()

    def knows(self, header: Header) -> bool:
        """Whether there is such a command or question."""
        return header in self._deeds

    def do(self, header: Header, parameters: list[str]) -> Answer:
        """Do what a header that it knows asks for; None where it answers nothing.

        Raises
        ------
        ScpiError
            For parameters that do not fit, or a state that forbids it.
        """
        return self._deeds[header](parameters)

    def restart(self) -> None:
        """Be as after switching on: output off, nothing set, no errors."""
        self._start_again()
        self.status.power_on()

    def _fill(self) -> None:
        status, show = self.status, self.meters.show
        supply, plate = self.rig.supply, self.rig.scene.supply
        volts, amps = self._volts, self._amps
        watts_places = 3 if self.meters.is_tagged else 2

        self._asks("*IDN?", lambda: self.posing_as or self._identity)
        self._asks("*OPC?", lambda: "1")
        self._asks("*TST?", lambda: "0")
        self._asks("*STB?", lambda: str(status.status_byte))
        self._asks("*ESR?", lambda: str(status.take_event_status()))
        self._does("*CLS", status.clear)
        self._does("*RST", self._start_again)
        self._does("*WAI", lambda: None)
        self._does("*OPC", self._operation_complete)

        self._asks("SYSTem:ERRor[:NEXT]?", status.next_error)
        self._asks("SYSTem:ERRor:COUNt?", lambda: str(status.errors))
        self._asks("SYSTem:VERSion?", lambda: VERSION)
        # Not of SCPI-1999, but supplies on serial lines take them (common practice, no source).
        self._does("SYSTem:REMote", lambda: None)
        self._does("SYSTem:LOCal", lambda: None)

        questionable, operation = "STATus:QUEStionable", "STATus:OPERation"
        self._asks(f"{questionable}[:EVENt]?", lambda: str(status.take_questionable_event()))
        self._asks(f"{questionable}:CONDition?", lambda: str(status.questionable))
        self._asks(f"{operation}[:EVENt]?", lambda: str(status.take_operation_event()))
        self._asks(f"{operation}:CONDition?", lambda: str(status.operation))

        measure = "MEASure[:SCALar]"
        self._asks(f"{measure}:VOLTage[:DC]?", lambda: volts(show("volts") or 0.0))
        self._asks(f"{measure}:CURRent[:DC]?", lambda: amps(show("amps") or 0.0))
        self._asks(f"{measure}:POWer[:DC]?", lambda: f"{show('watts'):.{watts_places}f}")
        if self.rig.scene.bath.probe:
            probe_places = decimals(self.meters.step("celsius"))
            self._asks(
                f"{measure}:TEMPerature[:DC]?", lambda: f"{show('celsius'):.{probe_places}f}"
            )

        self._asks("OUTPut[:STATe]?", lambda: str(int(supply.output_on)))
        self._sets("OUTPut[:STATe]", self._output)
        self._does("OUTPut:PROTection:CLEar", self._clear_protection)

        level = "[:LEVel][:IMMediate][:AMPLitude]"
        voltage, current = f"[SOURce]:VOLTage{level}", f"[SOURce]:CURRent{level}"
        self._levels(
            voltage, "V", lambda: supply.volts_set, self._set_volts, plate.volts_max, volts
        )
        self._levels(
            current, "A", lambda: supply.limit_amps, self._set_limit, self._most_amps, amps
        )
        self._levels(
            "[SOURce]:VOLTage:PROTection[:LEVel]",
            "V",
            lambda: self._volts_protection,
            self._set_volts_protection,
            self._most_volts_protection,
            volts,
        )
        self._levels(
            "[SOURce]:CURRent:PROTection[:LEVel]",
            "A",
            lambda: supply.limit_amps,
            self._set_limit,
            self._most_amps,
            amps,
        )
        self._asks("[SOURce]:VOLTage:PROTection:TRIPped?", lambda: "0")
        self._asks(
            "[SOURce]:CURRent:PROTection:TRIPped?",
            lambda: str(int(Protection.OVER_CURRENT in supply.protection)),
        )
        self._asks(
            "[SOURce]:CURRent:PROTection:STATe?", lambda: str(int(plate.at_limit == "trips"))
        )
        self._does("[SOURce]:CURRent:PROTection:CLEar", self._clear_protection)

    def _add(self, pattern: str, deed: Deed) -> None:
        for header in spellings(pattern):
            self._deeds[header] = deed

    def _asks(self, pattern: str, answer: Callable[[], str]) -> None:
        def deed(parameters: list[str]) -> Answer:
            if parameters:
                raise ScpiError(-108)
            return answer()

        self._add(pattern, deed)

    def _does(self, pattern: str, act: Callable[[], None]) -> None:
        def deed(parameters: list[str]) -> Answer:
            if parameters:
                raise ScpiError(-108)
            act()
            return None

        self._add(pattern, deed)

    def _sets(self, pattern: str, act: Callable[[str], None]) -> None:
        def deed(parameters: list[str]) -> Answer:
            if len(parameters) != 1:
                raise ScpiError(-108 if parameters else -109)
            act(parameters[0])
            return None

        self._add(pattern, deed)

    def _levels(
        self,
        pattern: str,
        unit: str,
        now: Callable[[], float],
        act: Callable[[float], None],
        most: float,
        text: Callable[[float], str],
    ) -> None:
        words = limits(0.0, most)

        def ask(parameters: list[str]) -> Answer:
            if not parameters:
                return text(now())
            if len(parameters) > 1:
                raise ScpiError(-108)
            if parameters[0].upper() not in words:
                raise ScpiError(-224)
            return text(words[parameters[0].upper()])

        def level(parameter: str) -> None:
            value = number(parameter, unit, words)
            if not 0.0 <= value <= most:
                raise ScpiError(-222)
            act(value)

        self._add(f"{pattern}?", ask)
        self._sets(pattern, level)

    def _volts(self, volts: float) -> str:
        return f"{volts:.{self._volts_places}f}"

    def _amps(self, amps: float) -> str:
        return f"{amps:.{self._amps_places}f}"

    def _output(self, parameter: str) -> None:
        if not self.rig.supply.switch_output(truth_value(parameter)):
            raise ScpiError(-221)

    def _clear_protection(self) -> None:
        if not self.rig.supply.reset():
            raise ScpiError(-221)

    def _set_volts(self, volts: float) -> None:
        self.rig.supply.volts_set = volts

    def _set_limit(self, amps: float) -> None:
        if amps <= 0.0:
            raise ScpiError(-222)
        self.rig.supply.limit_amps = amps

    def _set_volts_protection(self, volts: float) -> None:
        self._volts_protection = volts

    def _start_again(self) -> None:
        supply = self.rig.supply
        supply.power_on()
        supply.limit_amps = self.rig.scene.supply.limit_amps
        self._volts_protection = self._most_volts_protection

    def _operation_complete(self) -> None:
        self.status.event_status |= 1
