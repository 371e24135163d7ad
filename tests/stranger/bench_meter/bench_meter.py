"""Reads a bench meter that repeats the number of each question in its answer.

Asked `R 17`, it says `17 12.034 5.012`: volts and amps; asked `N 18`, it says `18 METER 7`. As
every answer names its question, a late one is never taken for another's.
"""

from itertools import count

from drivers.driver import Driver, DriverSetUp
from drivers.errors import GarbledAnswer, NoAnswer, Reopen, SupplySilent, SupplyUnreadable
from drivers.link.link import Link, after
from drivers.link.serial_settings import SerialSettings
from drivers.options import read_options
from drivers.reading import Identity, Reading


class CountingMeter:
    """One meter; a `Driver`."""

    def __init__(self, link: Link, set_up: DriverSetUp) -> None:
        self.link = link
        self.clock = set_up.clock
        self.timeout_s = set_up.timeout_s
        self.numbers = count(1)
        self.is_open = False

    @property
    def deadline_s(self) -> float:
        return 2.0 + 2 * self.timeout_s

    def open(self) -> Identity:
        self.close()
        try:
            self.link.open(after(self.clock, 1.0))
            self.is_open = True
            return Identity(self.ask("N"))
        except NoAnswer as error:
            self.close()
            raise SupplySilent(str(error)) from error
        except GarbledAnswer as error:
            self.close()
            raise SupplyUnreadable(str(error)) from error
        except Reopen:
            self.close()
            raise

    def read(self) -> Reading:
        if not self.is_open:
            raise Reopen(f"{self.link.place}: the meter is not open")
        answer = self.ask("R")
        try:
            volts, amps = (float(word) for word in answer.split())
        except ValueError as error:
            raise GarbledAnswer(f"{self.link.place}: {answer!r} is not two numbers") from error
        return Reading(volts, amps)

    def close(self) -> None:
        self.is_open = False
        self.link.close()

    def ask(self, letter: str) -> str:
        """Ask under a new number; what stands behind that number in the answer."""
        number = next(self.numbers)
        deadline_ns = after(self.clock, self.timeout_s)
        self.link.write(f"{letter} {number}\n".encode("ascii"), deadline_ns)
        came = b""
        while self.clock.monotonic_ns() < deadline_ns:
            came += self.link.read(deadline_ns)
            for line in came.split(b"\n")[:-1]:
                said, _, rest = line.decode("latin-1").partition(" ")
                if said == str(number) and rest:
                    return rest
        if came:
            raise GarbledAnswer(f"{self.link.place}: no answer to question {number} in {came!r}")
        raise NoAnswer(f"{self.link.place}: nothing came: is the meter on?")


def open_counting(set_up: DriverSetUp, /) -> Driver:
    """The entry point `counting` of group `bathvigil.drivers`."""
    return CountingMeter(read_options(set_up, SerialSettings()).link, set_up)
