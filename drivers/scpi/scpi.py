"""A supply's address in, its `Reading`s out: the driver for supplies that speak SCPI.

Over a serial port or TCP; what to ask stands in the supply's description.
"""

from collections.abc import Sequence
from dataclasses import replace

from drivers.driver import Driver, DriverSetUp, closed_on_failure
from drivers.errors import (
    AskAgain,
    BadAddress,
    Reopen,
)
from drivers.link.asking_link import AskingLink
from drivers.link.dialogue import Tally
from drivers.link.link import SLICE_S, after
from drivers.link.serial_link import WRITE_WITHIN_S
from drivers.mode_bits import is_dead, read_mode
from drivers.number import Number, doubt_of, sound_celsius
from drivers.options import LinkOptions, all_options, read_options
from drivers.reading import Identity, Mode, Reading
from drivers.reply_times import ReplyTimes
from drivers.scpi.scpi_description import ScpiDescription, load_scpi_description
from drivers.scpi.scpi_ends import all_questions, find_ends
from drivers.scpi.scpi_opening import (
    Known,
    Manner,
    ask_on_open,
    learn_manner,
    learn_who,
    read_identity,
)
from drivers.text.answer import SupplyError
from drivers.text.conversation import Conversation
from drivers.text.text_question import wires

DEFAULT_DESCRIPTION = "scpi-dc-supply"
CONNECT_S = 2.0
OPEN_TIMEOUTS = 12  # who it is, and each trial question with the way back into step after it
FIND_TIMEOUTS = 10  # each end of a question, twice
LONGEST_STATUS_WAIT_S = 60.0
STATUS_REST = 4.0
"""The status takes at most a fifth of a slow supply's time: the readings go before it."""


class ScpiDriver:
    """One supply that speaks SCPI; a `Driver`.

    Parameters
    ----------
    conversation
        On a closed link that lets the questions of the description pass.
    description
        What to ask, and what the answers mean.
    serial
        The serial number that the supply must have; None where any will do.
    """

    def __init__(
        self, conversation: Conversation, description: ScpiDescription, serial: str | None = None
    ) -> None:
        self.conversation = conversation
        self.description = description
        self.serial = serial
        self.times = ReplyTimes()
        self._known: Known | None = None
        self._manner: Manner | None = None
        self._opening_errors: tuple[SupplyError, ...] = ()
        self._is_open = False
        self._mode = Mode.UNKNOWN
        self._was_dead = False
        self._status_wait_s = description.status_every_s
        self._status_due_ns = 0

    @property
    def deadline_s(self) -> float:
        return max(self._open_limit_s, self._read_limit_s) + WRITE_WITHIN_S + 2 * SLICE_S

    @property
    def tally(self) -> Tally:
        """What has happened on the link since the driver was made."""
        return self.conversation.tally

    @property
    def manner(self) -> Manner | None:
        """Which questions the supply answers; None until it was opened once."""
        return self._manner

    @property
    def opening_errors(self) -> tuple[SupplyError, ...]:
        """What stood in the supply's error queue at the last opening."""
        return self._opening_errors

    def open(self) -> Identity:
        self.close()
        with closed_on_failure(self.close):
            return self._open()

    def read(self) -> Reading:
        manner = self._manner
        if manner is None or not self._is_open:
            raise Reopen(f"{self.conversation.who}: the supply is not open")
        self.conversation.begin(self._read_limit_s)
        began_ns = self.conversation.clock.monotonic_ns()
        numbers: list[Number] = []
        answered_ns: list[int] = []
        for message in manner.values:
            numbers += self.conversation.ask(message.question, message.understand)
            answered_ns.append(self.conversation.clock.monotonic_ns())
        self.times.add((answered_ns[-1] - began_ns) / 1e9)
        # What proves that an answer without an end is whole is a part of it, but no value.
        del numbers[len(self.description.quantities) :]
        volts, amps = numbers[0].value, numbers[1].value
        return Reading(
            volts=volts,
            amps=amps,
            celsius=sound_celsius(numbers[2]) if len(numbers) > 2 else None,
            mode=self._current_mode(manner, volts, amps),
            apart_s=(answered_ns[1] - answered_ns[0]) / 1e9 if len(answered_ns) > 1 else 0.0,
            doubt=self._doubt(numbers),
        )

    def close(self) -> None:
        self._is_open = False
        self.conversation.link.close()

    @property
    def _open_limit_s(self) -> float:
        timeouts = OPEN_TIMEOUTS + (FIND_TIMEOUTS if self.description.finds_ends else 0)
        return CONNECT_S + timeouts * self.conversation.timeout_s

    @property
    def _read_limit_s(self) -> float:
        messages = len(self.description.quantities) + len(self.description.registers)
        return (2 + messages) * self.conversation.timeout_s

    def _open(self) -> Identity:
        conversation, description = self.conversation, self.description
        conversation.begin(self._open_limit_s)
        conversation.link.open(after(conversation.clock, CONNECT_S))
        conversation.start_over()
        if self._known is None and description.finds_ends:
            description = self.description = find_ends(conversation, description)
        known = learn_who(conversation, description, self._known)
        identity = read_identity(known, description, self.serial)
        if conversation.idle_s is None:
            self._known = known
        manner = self._manner = self._manner or learn_manner(conversation, description, known)
        self._known = known
        on_open, self._opening_errors = ask_on_open(conversation, manner.on_open)
        self._manner = replace(manner, on_open=on_open)
        self._mode, self._was_dead, self._status_due_ns = Mode.UNKNOWN, False, 0
        self._is_open = True
        return identity

    def _current_mode(self, manner: Manner, volts: float | None, amps: float | None) -> Mode:
        """The mode, asked for when it is due, and at once when the output dies or comes back."""
        dead = is_dead(volts, amps, self.description.heading.rated_amps)
        now_ns = self.conversation.clock.monotonic_ns()
        is_due = dead != self._was_dead or now_ns >= self._status_due_ns
        if not manner.status or not is_due:
            return self._mode
        values: list[int] = []
        try:
            for message in manner.status:
                values += self.conversation.ask(message.question, message.understand)
        except AskAgain:
            # The volts and amps are good: they are kept, and the status is asked less often.
            self._mode = Mode.UNKNOWN
            self._status_wait_s = min(max(2 * self._status_wait_s, 1.0), LONGEST_STATUS_WAIT_S)
        else:
            words = [register.word for register in manner.registers]
            self._mode = read_mode(words, values[: len(words)], dead)
            self._status_wait_s = self.description.status_every_s
        self._was_dead = dead
        took_ns = self.conversation.clock.monotonic_ns() - now_ns
        rest_ns = max(int(self._status_wait_s * 1e9), int(STATUS_REST * took_ns))
        self._status_due_ns = now_ns + took_ns + rest_ns
        return self._mode

    def _doubt(self, numbers: Sequence[Number]) -> str | None:
        heading = self.description.heading
        ratings = (heading.rated_volts, heading.rated_amps)
        pairs = zip(self.description.quantities, numbers, ratings, strict=False)
        doubts = [doubt_of(quantity.name, number, rated) for quantity, number, rated in pairs]
        return "; ".join(doubt for doubt in doubts if doubt is not None) or None


def open_scpi(set_up: DriverSetUp, /) -> Driver:
    """The entry point `scpi` of group `bathvigil.drivers`: a closed `ScpiDriver`.

    Options of the address: those of a serial port, `timeout` (s), `quiet_ms`, `description`
    (name or path), `serial` (the serial number that the supply must have), `probe` (yes where a
    probe in the bath is wired to the supply).

    Raises
    ------
    BadAddress, BadDescription
    """
    name = set_up.description or all_options(set_up).get("description", DEFAULT_DESCRIPTION)
    description = load_scpi_description(name)
    options = read_options(set_up, description.heading.serial, own=("serial", "probe"))
    if _has_probe(set_up, options):
        description = load_scpi_description(name, has_probe=True)
    timeout_s = options.timeout_s or max(set_up.timeout_s, description.answer_within_s or 0.0)
    conversation = Conversation(
        AskingLink(options.link, wires(all_questions(description))),
        set_up.clock,
        timeout_s,
        options.quiet_s or description.quiet_s,
        set_up.address.text,
    )
    return ScpiDriver(conversation, description, options.others.get("serial"))


def _has_probe(set_up: DriverSetUp, options: LinkOptions) -> bool:
    probe = options.others.get("probe", "no")
    if probe not in ("yes", "no"):
        raise BadAddress(f"{set_up.address.text}: probe={probe!r} must be yes or no")
    return probe == "yes"
