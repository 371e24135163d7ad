"""A question for registers, checked: Modbus functions 3 and 4, and nothing else.

Modbus Application Protocol V1.1b3, 6.3 and 6.4; Modbus over Serial Line V1.02, 2.2.
"""

from dataclasses import dataclass, field

from drivers.errors import QuestionRefused

READ_FUNCTIONS = (3, 4)
MOST_REGISTERS = 125
MANUAL_BASES = {3: (40001, 400001, 1), 4: (30001, 300001, 1)}
"""How manuals count from 1, by the function; the first is how messages show it."""

SERIAL_UNITS = range(1, 248)
"""V1.02, 2.2: 0 is the broadcast, 248 to 255 are reserved."""
UNITS = range(256)
"""On TCP the number is one byte for a gateway; devices use 0, 255 or any other for themselves."""


@dataclass(frozen=True, slots=True)
class RegisterQuestion:
    """One block of registers of one unit, read in one request.

    Parameters
    ----------
    unit
        1 to 247 on a serial line, where frames to 0, the broadcast, are refused; 0 to 255 on TCP.
    function
        3 (holding registers) or 4 (input registers).
    address
        Of the first register on the wire, counted from 0.
    count
        How many registers.

    Raises
    ------
    QuestionRefused
        For anything else: no other function can be put into a question.

    Examples
    --------
    >>> RegisterQuestion(unit=17, function=3, address=107, count=3).words
    'registers 107 to 109 (40108 to 40110 in a manual), function 3'
    >>> RegisterQuestion(unit=1, function=6, address=0, count=1)
    Traceback (most recent call last):
    drivers.errors.QuestionRefused: function 6 is not a question: only 3 and 4 are
    """

    unit: int
    function: int
    address: int
    count: int
    pdu: bytes = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise QuestionRefused(f"unit {self.unit} cannot be asked: 0 to 255 are units")
        if self.function not in READ_FUNCTIONS:
            raise QuestionRefused(f"function {self.function} is not a question: only 3 and 4 are")
        if not 1 <= self.count <= MOST_REGISTERS:
            raise QuestionRefused(f"{self.count} registers cannot be read at once: 1 to 125")
        if not 0 <= self.address <= 0x10000 - self.count:
            raise QuestionRefused(f"register {self.address} is not there: 0 to 65535")
        pdu = bytes((self.function,)) + self.address.to_bytes(2, "big")
        object.__setattr__(self, "pdu", pdu + self.count.to_bytes(2, "big"))

    @property
    def words(self) -> str:
        """What is asked for, with both ways of counting."""
        base = MANUAL_BASES[self.function][0]
        first, last = self.address, self.address + self.count - 1
        if self.count == 1:
            return f"register {first} ({base + first} in a manual), function {self.function}"
        return (
            f"registers {first} to {last} ({base + first} to {base + last} in a manual), "
            f"function {self.function}"
        )
