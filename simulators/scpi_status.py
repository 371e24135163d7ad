"""The status reporting of IEEE 488.2 and SCPI-1999, as far as a supply on a wire is asked for it.

| register | bits used |
| --- | --- |
| QUEStionable | 1 CURRent: cut out for over-current; 4 TEMPerature: cut out for heat |
| OPERation | 8 holds its volts, 10 holds its amps (SCPI leaves 8 to 12 to the designer) |
| event status | 0 OPC, 2 query, 3 device, 4 execution, 5 command error, 7 power on |
| status byte | 2 error queue |

The registers that enable summary bits are left out: a recorder cannot set them, and no serial line
carries a service request.
"""

from collections import deque

from simulators.scpi_words import ERRORS, ScpiError
from simulators.supply import Mode, Protection, Supply

QUES_CURRENT = 1 << 1
QUES_TEMPERATURE = 1 << 4
OPER_CONSTANT_VOLTAGE = 1 << 8
OPER_CONSTANT_CURRENT = 1 << 10
QUEUE_LENGTH = 16
NO_ERROR = '0,"No error"'


class ScpiStatus:
    """The registers of one supply, shared by all its links."""

    def __init__(self, supply: Supply) -> None:
        self._supply = supply
        self._errors: deque[int] = deque()
        self.power_on()

    def power_on(self) -> None:
        """Be as after switching on: nothing queued, the power-on bit set."""
        self._errors.clear()
        self._operation_before = 0
        self._operation_event = 0
        self.event_status = 1 << 7

    def report(self, error: ScpiError) -> None:
        """Queue an error; one too many turns the last into -350."""
        number = error.number
        if len(self._errors) == QUEUE_LENGTH:
            self._errors[-1] = number = -350
        else:
            self._errors.append(number)
        # -100s are command errors (bit 5), -200s execution (4), -300s device (3), -400s query (2).
        self.event_status |= 1 << (6 - abs(number) // 100)

    def next_error(self) -> str:
        """Take the oldest error off the queue."""
        if not self._errors:
            return NO_ERROR
        number = self._errors.popleft()
        return f'{number},"{ERRORS[number]}"'

    @property
    def errors(self) -> int:
        """How many errors wait."""
        return len(self._errors)

    @property
    def questionable(self) -> int:
        """The questionable condition register."""
        return _questionable(self._supply.protection)

    @property
    def operation(self) -> int:
        """The operation condition register."""
        mode = self._supply.mode
        return (
            OPER_CONSTANT_VOLTAGE * (mode is Mode.CONSTANT_VOLTAGE)
            | OPER_CONSTANT_CURRENT * (mode is Mode.CONSTANT_CURRENT)
        )  # fmt: skip

    def look(self) -> None:
        """Latch what has come up since the last look."""
        now = self.operation
        self._operation_event |= now & ~self._operation_before
        self._operation_before = now

    def take_questionable_event(self) -> int:
        """What came up since it was last taken, even if it is over."""
        event = _questionable(self._supply.tripped_for)
        self._supply.tripped_for = Protection.NONE
        return event

    def take_operation_event(self) -> int:
        event, self._operation_event = self._operation_event, 0
        return event

    def take_event_status(self) -> int:
        event, self.event_status = self.event_status, 0
        return event

    @property
    def status_byte(self) -> int:
        """Bit 2 where errors wait; nothing is enabled for the summary bits."""
        return (1 << 2) * bool(self._errors)

    def clear(self) -> None:
        """*CLS: the queue and the event registers."""
        self._errors.clear()
        self.event_status = 0
        self._operation_event = 0
        self._supply.tripped_for = Protection.NONE


def _questionable(protection: Protection) -> int:
    return (
        QUES_CURRENT * (Protection.OVER_CURRENT in protection)
        | QUES_TEMPERATURE * (Protection.OVER_TEMPERATURE in protection)
    )  # fmt: skip
