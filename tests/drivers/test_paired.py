"""Volts from one instrument, amps from another: the rules of `drivers/paired.py`, one by one."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

import pytest

from drivers.base.clock import SystemClock
from drivers.errors import DriverError, NoAnswer, Reopen, WrongSupply
from drivers.paired import PairedDriver
from drivers.reading import Identity, Mode, Reading


@dataclass
class Meter:
    """A driver whose next readings are given by the test."""

    name: str
    reads: list[Callable[[], Reading]] = field(default_factory=list)
    opens: Callable[[], Identity] | None = None
    deadline_s: float = 1.0
    closed: int = 0
    notices: tuple[str, ...] = ()

    def open(self) -> Identity:
        return Identity(self.name) if self.opens is None else self.opens()

    def read(self) -> Reading:
        return self.reads.pop(0)()

    def close(self) -> None:
        self.closed += 1


def gives(
    volts: float | None, amps: float | None, doubt: str | None = None
) -> Callable[[], Reading]:
    return lambda: Reading(volts, amps, doubt=doubt)


def fails(error: DriverError) -> Callable[[], Reading]:
    def raise_it() -> Reading:
        raise error

    return raise_it


def paired(volts: Meter, amps: Meter, within_s: float = 5.0) -> PairedDriver:
    driver = PairedDriver(volts, amps, SystemClock(), within_s)
    driver.open()
    return driver


def test_each_quantity_is_its_own_instruments() -> None:
    volts, amps = Meter("v", [gives(8.2, 99.0)]), Meter("a", [gives(77.0, 3.5)])
    driver = paired(volts, amps)
    reading = driver.read()
    driver.close()
    assert (reading.volts, reading.amps, reading.doubt) == (8.2, 3.5, None)
    assert volts.closed
    assert amps.closed


def test_the_name_is_that_of_both() -> None:
    driver = PairedDriver(Meter("v"), Meter("a"), SystemClock(), 1.0)
    assert driver.open().text == "volts: v; amps: a"
    driver.close()


def test_a_doubt_of_what_is_not_used_is_none() -> None:
    volts = Meter("v", [gives(8.2, None, "amps: no value (FFFF)")])
    amps = Meter("a", [gives(None, 30.0, "volts: no value; amps out of range (30, rated 15)")])
    driver = paired(volts, amps)
    assert driver.read().doubt == "amps out of range (30, rated 15)"
    driver.close()


def test_a_meter_without_the_wanted_quantity_is_a_doubt() -> None:
    driver = paired(Meter("v", [gives(8.2, None)]), Meter("a", [gives(8.2, None)]))
    assert driver.read().doubt == "amps: no value"
    driver.close()


@pytest.mark.parametrize("error", [NoAnswer("nothing came"), Reopen("it is gone")])
@pytest.mark.parametrize("silent", ["volts", "amps"])
def test_a_silent_half_is_a_failure_that_names_it_and_no_old_value(
    silent: str, error: DriverError
) -> None:
    good = [gives(1.0, 2.0), gives(1.1, 2.1), gives(1.2, 2.2)]
    bad = [gives(1.0, 2.0), fails(error), gives(3.2, 4.2)]
    volts, amps = Meter("v", list(good)), Meter("a", list(good))
    (volts if silent == "volts" else amps).reads = bad
    driver = paired(volts, amps)
    driver.read()
    with pytest.raises(type(error), match=f"^{silent}: "):
        driver.read()
    reading = driver.read()
    driver.close()
    assert (reading.volts, reading.amps) == ((3.2, 2.2) if silent == "volts" else (1.2, 4.2))


def test_answers_too_far_apart_are_not_put_together() -> None:
    late = threading.Event()

    def slow() -> Reading:
        late.wait(0.05)
        return Reading(8.2, 3.5)

    driver = paired(Meter("v", [gives(8.2, 3.5)]), Meter("a", [slow]), within_s=0.001)
    with pytest.raises(NoAnswer, match=r"amps came .* behind"):
        driver.read()
    driver.close()


def test_the_time_is_that_of_the_later_half() -> None:
    early, late = (10, 20), (15, 40)
    for volts, amps in ((early, late), (late, early)):
        driver = paired(
            Meter("v", [partial(Reading, 8.2, 3.5, span_ns=volts)]),
            Meter("a", [partial(Reading, 8.2, 3.5, span_ns=amps)]),
        )
        reading = driver.read()
        driver.close()
        assert reading.span_ns == late
        assert reading.apart_s == 12e-9


def test_the_state_is_that_of_whoever_tells_one() -> None:
    reading = Reading(8.2, 3.5, 31.0, Mode.CONSTANT_CURRENT)
    driver = paired(Meter("v", [gives(8.2, 3.5)]), Meter("a", [lambda: reading]))
    joined = driver.read()
    driver.close()
    assert (joined.mode, joined.celsius) == (Mode.CONSTANT_CURRENT, 31.0)


def test_another_instrument_on_one_side_is_named_and_both_are_closed() -> None:
    def other() -> Identity:
        raise WrongSupply("another answers")

    volts, amps = Meter("v"), Meter("a", opens=other)
    driver = PairedDriver(volts, amps, SystemClock(), 1.0)
    with pytest.raises(WrongSupply, match="amps: another"):
        driver.open()
    assert volts.closed
    with pytest.raises(Reopen):
        driver.read()
