"""What every driver promises, whoever wrote it.

Numbered rules, each with its test in `drivers/promises.py`:

1. `open` returns an `Identity` or raises a `DriverError`; after `close` it may be called again.
2. `read` returns one `Reading` that belongs to this question, or raises a `DriverError`.
3. Neither takes longer than the driver's `deadline_s`, whatever hangs on the wire.
4. `close` never raises, and may be called at any time, more than once.
5. Nothing is ever sent but questions.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from drivers.address import Address
from drivers.base.clock import Clock
from drivers.base.timeout import TIMEOUT_S
from drivers.reading import Identity, Reading


class Driver(Protocol):
    """One supply on one link."""

    @property
    def deadline_s(self) -> float:
        """The longest that `open` or `read` can take, seconds of real time."""
        ...

    def open(self) -> Identity:
        """Open the link and learn who answers.

        Raises
        ------
        DriverError
            `Reopen` where trying later may help, `DoNotRepeat` where it cannot.
        """
        ...

    def read(self) -> Reading:
        """Ask the supply once.

        Raises
        ------
        DriverError
            `AskAgain` to poll again, `Reopen` to close and open first.
        """
        ...

    def close(self) -> None:
        """Give the link back."""
        ...


@dataclass(frozen=True, slots=True)
class DriverSetUp:
    """What the recorder hands to a driver's opener.

    Parameters
    ----------
    address
        Where the supply is.
    clock
        Real time for deadlines; never sped up.
    timeout_s
        The longest wait for one answer.
    description
        Name of a shipped description, or the path of a TOML file; None for the driver's default.
    options
        Driver's own settings, as text, from the address and bench.toml.
    """

    address: Address
    clock: Clock
    timeout_s: float = TIMEOUT_S
    description: str | None = None
    options: Mapping[str, str] = field(default_factory=dict)


class OpensDriver(Protocol):
    """The object behind an entry point of group `bathvigil.drivers`."""

    def __call__(self, set_up: DriverSetUp, /) -> Driver: ...
