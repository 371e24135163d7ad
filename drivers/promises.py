"""The promises of `driver.py` as checks that any driver can be run against.

A driver's author brings the opener and a `FakeEnd`: the other end of the wire, which knows what
it was asked and what it answered. For a test of one's own:

    @pytest.mark.parametrize("promise", PROMISES, ids=str)
    def test_the_driver_keeps_its_promises(promise):
        with MyFakeEnd() as end:
            promise.check(open_mine, end)
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from drivers.address import parse_address
from drivers.base.clock import SystemClock
from drivers.driver import Driver, DriverSetUp, OpensDriver
from drivers.errors import AskAgain, DriverError, Reopen
from drivers.reading import Identity, Mode, Reading

TIMEOUT_S = 0.05
SLACK_S = 1.0  # for a machine that is busy with something else
POLLS = 25
OPENINGS = 4
LONGEST_RECOVERY_POLLS = 20


class Fault(StrEnum):
    """What a fake end can do instead of answering properly."""

    NONE = "none"
    MUTE = "mute"
    PARTIAL = "partial"
    LATE = "late"
    NOISE = "noise"
    DRIP = "drip"
    UNPLUGGED = "unplugged"


@dataclass(frozen=True, slots=True)
class Given:
    """One value that the fake end gave: "volts", "amps" or "celsius", in SI units."""

    quantity: str
    value: float


class FakeEnd(Protocol):
    """The other end of the wire, for the checks."""

    @property
    def address(self) -> str:
        """The address under which the driver reaches it."""
        ...

    @property
    def given(self) -> Sequence[Given]:
        """Every value made for a question, in the order of the questions; no two are equal."""
        ...

    @property
    def received(self) -> Sequence[bytes]:
        """Every message that came, whole."""
        ...

    def is_question(self, message: bytes) -> bool:
        """True where the message only asks, by the wire's own rules."""
        ...

    def behave(self, fault: Fault) -> None:
        """From now on. `LATE`: answer everything, each `1.5 * TIMEOUT_S` after its question;
        `PARTIAL`: the first half of each answer; `NOISE`: random bytes instead of answers;
        `DRIP`: bytes without an end of line for ever, 20 to 50 ms apart; `UNPLUGGED`: the link
        is gone; `NONE`: plugged in, answering."""
        ...


class PromiseBroken(AssertionError):
    """A driver does not keep a promise; the message says which, and how."""


@dataclass(frozen=True, slots=True)
class Promise:
    """One numbered promise and its check."""

    number: int
    words: str
    check: Callable[[OpensDriver, FakeEnd], None]

    def __str__(self) -> str:
        return f"{self.number}: {self.words}"


def _make(opens: OpensDriver, end: FakeEnd) -> Driver:
    address = parse_address(end.address)
    return opens(DriverSetUp(address, SystemClock(), timeout_s=TIMEOUT_S))


def _demand(kept: bool, what: str) -> None:
    if not kept:
        raise PromiseBroken(what)


def _open_says_who(opens: OpensDriver, end: FakeEnd) -> None:
    driver = _make(opens, end)
    try:
        first = _open_at_last(driver)
        _demand(isinstance(first, Identity), f"open returned {first!r}")
        driver.close()
        _demand(
            _open_at_last(driver) == first, "opened again, the same supply has another identity"
        )
    finally:
        driver.close()


def _open_fails_by_the_tree(opens: OpensDriver, end: FakeEnd) -> None:
    for fault in (Fault.UNPLUGGED, Fault.MUTE, Fault.NOISE, Fault.PARTIAL):
        end.behave(fault)
        driver = _make(opens, end)
        try:
            identity = driver.open()
        except DriverError as error:
            _demand(isinstance(error, Reopen), f"{fault}: {error!r} is not a Reopen")
            _demand(bool(str(error)), f"{fault}: the error has no message")
        else:
            raise PromiseBroken(f"{fault}: open returned {identity!r}")
        finally:
            driver.close()
    end.behave(Fault.NONE)
    driver = _make(opens, end)
    try:
        _open_at_last(driver)
    finally:
        driver.close()


def _reading_is_the_answer(opens: OpensDriver, end: FakeEnd) -> None:
    driver = _make(opens, end)
    try:
        _open_at_last(driver)
        # A busy machine may hold up an answer or two past their time-out.
        answered = sum(_poll(driver, end) for _ in range(POLLS))
        _demand(answered > POLLS // 2, f"only {answered} of {POLLS} polls were answered")
    finally:
        driver.close()


def _open_at_last(driver: Driver) -> Identity:
    """Open; on a busy machine an answer may come too late, and it is tried again."""
    for _ in range(OPENINGS - 1):
        try:
            return driver.open()
        except Reopen:
            continue
    return driver.open()


def _no_answer_goes_to_another_question(opens: OpensDriver, end: FakeEnd) -> None:
    driver = _make(opens, end)
    try:
        _open_at_last(driver)
        for fault in (Fault.LATE, Fault.PARTIAL, Fault.NOISE):
            end.behave(fault)
            for _ in range(POLLS // 5):
                _poll(driver, end)
            end.behave(Fault.NONE)
            answered = sum(_poll(driver, end) for _ in range(LONGEST_RECOVERY_POLLS))
            _demand(answered > 0, f"after {fault} it never reads again")
    finally:
        driver.close()


def _deadline_is_kept(opens: OpensDriver, end: FakeEnd) -> None:
    for fault in (Fault.MUTE, Fault.PARTIAL, Fault.DRIP, Fault.UNPLUGGED):
        end.behave(Fault.NONE)
        driver = _make(opens, end)
        try:
            _open_at_last(driver)
            end.behave(fault)
            _demand_in_time(driver, fault, driver.read)
            driver.close()
            _demand_in_time(driver, fault, driver.open)
        finally:
            driver.close()


def _close_never_raises(opens: OpensDriver, end: FakeEnd) -> None:
    driver = _make(opens, end)
    driver.close()
    driver.close()
    _open_at_last(driver)
    end.behave(Fault.UNPLUGGED)
    driver.close()
    driver.close()


def _only_questions_leave(opens: OpensDriver, end: FakeEnd) -> None:
    driver = _make(opens, end)
    try:
        _open_at_last(driver)
        for fault in (Fault.NONE, Fault.PARTIAL, Fault.NOISE, Fault.NONE):
            end.behave(fault)
            for _ in range(POLLS // 5):
                _poll(driver, end)
    finally:
        driver.close()
    _demand(bool(end.received), "nothing was asked at all")
    for message in end.received:
        _demand(end.is_question(message), f"it sent {message!r}, which is not a question")


def _poll(driver: Driver, end: FakeEnd) -> bool:
    """Poll once as a recorder does; True where a reading came, which must be its own."""
    before = len(end.given)
    try:
        reading = driver.read()
    except AskAgain:
        return False
    except Reopen:
        driver.close()
        try:
            driver.open()
        except Reopen:
            driver.close()
        return False
    except Exception as error:
        raise PromiseBroken(f"read raised {error!r}: neither AskAgain nor Reopen") from error
    _demand_own_values(reading, end.given[before:])
    return True


def _demand_own_values(reading: Reading, given: Sequence[Given]) -> None:
    _demand(isinstance(reading.mode, Mode), f"mode is {reading.mode!r}")
    for quantity, value in (
        ("volts", reading.volts),
        ("amps", reading.amps),
        ("celsius", reading.celsius),
    ):
        if value is None:
            continue
        own = [each.value for each in given if each.quantity == quantity]
        _demand(
            any(abs(value - each) <= 1e-6 * max(1.0, abs(each)) for each in own),
            f"{quantity} = {value} was not given in answer to this question, but {own}",
        )


def _demand_in_time(driver: Driver, fault: Fault, step: Callable[[], object]) -> None:
    clock = SystemClock()
    began_ns = clock.monotonic_ns()
    try:
        step()
    except DriverError:
        pass
    else:
        raise PromiseBroken(f"{fault}: a good answer came of it")
    taken_s = (clock.monotonic_ns() - began_ns) / 1e9
    _demand(
        taken_s <= driver.deadline_s + SLACK_S,
        f"{fault}: took {taken_s:.2f} s, the driver's deadline is {driver.deadline_s:.2f} s",
    )


PROMISES = (
    Promise(1, "open says who answers, and may be called again", _open_says_who),
    Promise(1, "a failed opening is a Reopen, and heals", _open_fails_by_the_tree),
    Promise(2, "a reading is the answer to its question", _reading_is_the_answer),
    Promise(2, "no answer goes to another question", _no_answer_goes_to_another_question),
    Promise(3, "neither takes longer than the deadline", _deadline_is_kept),
    Promise(4, "close never raises", _close_never_raises),
    Promise(5, "only questions leave", _only_questions_leave),
)
