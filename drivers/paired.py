"""One supply that is read by two instruments: volts from one, amps from the other.

Numbered rules, each with its test:

1. Both are asked at the same time; each has its own link, description, time-out and clock.
2. A reading is one of volts and amps that were measured within `within_s` of each other; anything
   else is a failure that says why, and its half.
3. Nothing is kept from one poll to the next: an old value never stands beside a new one.
4. The one that is silent, refuses or is another than before names itself.
5. Its time is that of the later half.
6. State and temperature are those of the volts' instrument, or else of the other.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from typing import TypeVar

from drivers.address import parse_address
from drivers.base.clock import Clock
from drivers.base.timeout import TIMEOUT_S
from drivers.driver import Driver, DriverSetUp
from drivers.errors import DriverError, NoAnswer, Reopen
from drivers.reading import Identity, Mode, Reading
from drivers.registry import open_driver

T = TypeVar("T")

WITHIN_S = 0.5
_LATE_S = 1.0


@dataclass(frozen=True, slots=True)
class AmpsSource:
    """The instrument that reads the amps.

    Parameters
    ----------
    address, description, timeout_s
        As of any supply.
    within_s
        Volts and amps that were answered further apart are not put together, seconds.
    """

    address: str
    description: str | None = None
    timeout_s: float = TIMEOUT_S
    within_s: float = WITHIN_S


@dataclass(frozen=True, slots=True)
class _Half:
    """What one instrument answered, and when it was asked and answered."""

    reading: Reading
    span_ns: tuple[int, int]

    @property
    def measured_ns(self) -> int:
        """The middle between question and answer."""
        return sum(self.span_ns) // 2


class PairedDriver:
    """A `Driver` of two others.

    Parameters
    ----------
    volts, amps
        Closed; used by nobody else.
    clock
        By which both are timed.
    within_s
        How far apart their answers may be, seconds.
    """

    def __init__(self, volts: Driver, amps: Driver, clock: Clock, within_s: float) -> None:
        self.volts = volts
        self.amps = amps
        self.clock = clock
        self.within_s = within_s
        self._beside: ThreadPoolExecutor | None = None

    @property
    def deadline_s(self) -> float:
        return max(self.volts.deadline_s, self.amps.deadline_s) + _LATE_S

    @property
    def every_s(self) -> float | None:
        """How often the slower one speaks by itself; None where both are asked."""
        paces = [getattr(half, "every_s", None) for half in (self.volts, self.amps)]
        return max((pace for pace in paces if isinstance(pace, float)), default=None)

    @property
    def notices(self) -> tuple[str, ...]:
        """What people should know about either link."""
        both = (("volts", self.volts), ("amps", self.amps))
        return tuple(
            f"{name}: {notice}" for name, half in both for notice in getattr(half, "notices", ())
        )

    def open(self) -> Identity:
        self.close()
        self._beside = ThreadPoolExecutor(1, "amps")
        amps = self._beside.submit(self.amps.open)
        try:
            both = _named("volts", self.volts.open), _named("amps", amps.result)
        except BaseException:
            self.close()
            raise
        serials = [each.serial for each in both if each.serial is not None]
        text = f"volts: {both[0].text}; amps: {both[1].text}"
        return Identity(text, "; ".join(serials) or None)

    def read(self) -> Reading:
        if self._beside is None:
            raise Reopen("the two instruments are not open")
        beside = self._beside.submit(self._half, self.amps)
        try:
            volts = _named("volts", lambda: self._half(self.volts))
        finally:
            # The other's answer is waited for in any case: it must not be there at the next poll.
            wait((beside,))
        return self._joined(volts, _named("amps", beside.result))

    def close(self) -> None:
        beside, self._beside = self._beside, None
        if beside is not None:
            beside.shutdown(wait=True)
        self.volts.close()
        self.amps.close()

    def _half(self, driver: Driver) -> _Half:
        asked_ns = self.clock.monotonic_ns()
        reading = driver.read()
        # The driver knows better where it first had to find its way back into step.
        return _Half(reading, reading.span_ns or (asked_ns, self.clock.monotonic_ns()))

    def _joined(self, volts: _Half, amps: _Half) -> Reading:
        apart_s = abs(volts.measured_ns - amps.measured_ns) / 1e9
        later = max(volts, amps, key=lambda half: half.measured_ns)
        if apart_s > self.within_s:
            late = "amps" if later is amps else "volts"
            raise NoAnswer(
                f"{late} came {apart_s:.2f} s behind the other half, more than joined_within_s = "
                f"{self.within_s:g} allows: poll less often, or allow more"
            )
        doubts = (_doubt("volts", volts.reading), _doubt("amps", amps.reading))
        first, second = volts.reading, amps.reading
        return replace(
            first,
            amps=second.amps,
            celsius=first.celsius if first.celsius is not None else second.celsius,
            mode=second.mode if first.mode is Mode.UNKNOWN else first.mode,
            apart_s=apart_s,
            doubt="; ".join(doubt for doubt in doubts if doubt) or None,
            span_ns=later.span_ns,
        )


def open_supply(set_up: DriverSetUp, amps: AmpsSource | None) -> Driver:
    """The driver of a supply that is read by one instrument, or by two; closed.

    Raises
    ------
    DoNotRepeat
        Where an address, its options or a description cannot be used.
    """
    driver = open_driver(set_up)
    if amps is None:
        return driver
    address = parse_address(amps.address)
    other = open_driver(DriverSetUp(address, set_up.clock, amps.timeout_s, amps.description))
    return PairedDriver(driver, other, set_up.clock, amps.within_s)


def _doubt(name: str, reading: Reading) -> str | None:
    """What is doubted of the one quantity that is taken from an instrument."""
    others = {"volts": "amps", "amps": "volts"}
    parts = (reading.doubt or "").split("; ")
    own = [part for part in parts if part and not part.startswith(others[name])]
    value = reading.volts if name == "volts" else reading.amps
    if not own and value is None:
        own = [f"{name}: no value"]
    return "; ".join(own) or None


def _named(name: str, do: Callable[[], T]) -> T:
    """What a half returns; its failure names it."""
    try:
        return do()
    except DriverError as error:
        raise _of(name, error) from error


def _of(name: str, error: DriverError) -> DriverError:
    return type(error)(f"{name}: {error}")
