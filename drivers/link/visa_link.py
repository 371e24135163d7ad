"""A link over VISA: USBTMC, VXI-11, HiSLIP and whatever else a VISA library reaches.

The only file that imports `pyvisa`, and only when an address asks for it.
"""

import importlib.util
import re
from typing import Any

from drivers.base.clock import Clock
from drivers.base.inert import inert
from drivers.errors import BadAddress, DriverError, PortMissing, Reopen
from drivers.link.message_link import MessageLink

MOST_BYTES = 65536
PURE = "@py"
CURE = "pip install 'bathvigil[visa]'"
_RESOURCE = re.compile(r"[A-Za-z]+[0-9]*::[^\s?]+")


class VisaLink(MessageLink):
    """One instrument under its VISA name.

    Parameters
    ----------
    resource
        Such as "TCPIP::10.0.0.7::INSTR" or "USB::0x1111::0x2222::DP8A1::INSTR".
    library
        Which VISA library; None for the one in pure Python if it is installed.

    Raises
    ------
    BadAddress
        Where the resource is no VISA name, or `pyvisa` is not installed.
    """

    def __init__(self, resource: str, clock: Clock, library: str | None = None) -> None:
        if _RESOURCE.fullmatch(resource) is None:
            raise BadAddress(
                f"visa:{resource}: write the name that VISA gives it, such as "
                "visa:TCPIP::10.0.0.7::INSTR or visa:USB::0x1111::0x2222::SERIAL::INSTR"
            )
        if importlib.util.find_spec("pyvisa") is None:
            raise BadAddress(f"visa:{resource}: needs what is not installed: {CURE}")
        import pyvisa

        super().__init__(f"visa:{resource}", clock)
        self.resource = resource
        is_pure_there = importlib.util.find_spec("pyvisa_py") is not None
        try:
            # All links on one library share one manager: it is never closed.
            self._manager: Any = pyvisa.ResourceManager(library or (PURE if is_pure_there else ""))
        except Exception as error:  # each library fails in its own way where it is not there
            raise BadAddress(
                f"{self.place}: no VISA library can be loaded ({_words(error)}): {CURE}"
            ) from error
        self._session: Any = None

    def _connect(self, within_s: float) -> None:
        try:
            session = self._manager.open_resource(self.resource, open_timeout=_ms(within_s))
        except Exception as error:  # VISA's own errors, and those of sockets and USB below it
            raise PortMissing(
                f"{self.place}: nothing answers there ({_words(error)}): check that it is on, its "
                "cable, and its name by `pyvisa-shell -b py` and `list`"
            ) from error
        session.write_termination = ""
        if self.resource.upper().endswith("::SOCKET"):
            session.read_termination = "\n"
        self._session = session

    def _disconnect(self) -> None:
        session, self._session = self._session, None
        if session is not None:
            session.close()

    def _send(self, data: bytes, within_s: float) -> None:
        self._session.timeout = _ms(within_s)
        try:
            self._session.write_raw(data)
        except Exception as error:  # as above
            raise self._lost(error) from error

    def _fetch(self, within_s: float) -> bytes:
        import pyvisa

        self._session.timeout = _ms(within_s)
        try:
            return bytes(self._session.read_raw(MOST_BYTES))
        except pyvisa.errors.VisaIOError as error:
            if error.error_code == pyvisa.constants.StatusCode.error_timeout:
                return b""
            raise self._lost(error) from error
        except Exception as error:  # as above
            raise self._lost(error) from error

    def _lost(self, error: Exception) -> DriverError:
        return Reopen(
            f"{self.place}: the connection is lost ({_words(error)}): check the instrument and its "
            "cable; it is tried again by itself"
        )


def _ms(seconds: float) -> int:
    return max(int(seconds * 1000), 1)


def _words(error: Exception) -> str:
    return inert(str(error) or type(error).__name__, 120)
