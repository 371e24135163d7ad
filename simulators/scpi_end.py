"""The supply's end of one SCPI link: no I/O and no clock.

1. A message ends with a line feed or a carriage return; an empty one is nothing.
2. Parts of a message are joined by `;`, and so are their answers. Each answer ends with
   the terminator that the end was made with, a line feed if not said.
3. A part without a leading colon goes on from the last one's node (IEEE 488.2, SCPI-1999 vol. 1
   section 6.2.4): `MEAS:VOLT?;CURR?` measures both. One that makes no sense there is looked up
   from the root, as lenient supplies do. Common commands (`*...`) leave the node alone.
4. What cannot be understood puts an error into the queue and drops the rest of its message; the
   parts before it are answered.
5. Bytes outside printable ASCII: -101. A message without an end: -363 after 4096 bytes, dropped up
   to its end.
"""

import re

from simulators.exchange import Exchange, Records
from simulators.scpi_supply import ScpiSupply
from simulators.scpi_words import ERRORS, ScpiError, split_header

BUFFER_BYTES = 4096

_MESSAGE_END = re.compile(rb"[\r\n]")
_PRINTABLE = re.compile(r"[\x20-\x7e\t]*")
_BLANK = re.compile(r"[ \t]+")


class ScpiEnd(Records):
    """One link to a supply; several may share one `ScpiSupply`.

    Parameters
    ----------
    instrument
        The supply behind the link.
    terminator
        What each answer ends with.

    Examples
    --------
    >>> from simulators.rig import Rig
    >>> from simulators.scene import load_scene
    >>> rig = Rig(load_scene("quiet-strip"))
    >>> end = ScpiEnd(ScpiSupply(rig, rig.scene.supply.identity(1)))
    >>> end.feed(b"*IDN?;SYST:VERS?\\n", t_s=0.0)
    >>> end.take()
    b'BATHVIGIL SIM,DC-12-10,SIM0001,1.0;1999.0\\n'
    """

    def __init__(self, instrument: ScpiSupply, terminator: bytes = b"\n") -> None:
        super().__init__(instrument.rig)
        self._instrument = instrument
        self._terminator = terminator
        self._is_dropping = False

    def feed(self, data: bytes, t_s: float) -> None:
        """Take bytes that came at so many seconds of bath time, whole messages or not."""
        self._instrument.rig.advance_to(t_s)
        self._buffer += data
        while (end := _MESSAGE_END.search(self._buffer)) is not None:
            message = bytes(self._buffer[: end.end()])
            del self._buffer[: end.end()]
            if self._is_dropping:
                self._is_dropping = False
            elif len(message) - 1 > BUFFER_BYTES:
                self._overrun(message, t_s)
            elif message.strip():
                self._answer(message, t_s)
        if len(self._buffer) > BUFFER_BYTES:
            if not self._is_dropping:
                self._overrun(bytes(self._buffer), t_s)
            self._is_dropping = True
            self._buffer.clear()

    def refusal(self, asked: bytes, code: int) -> bytes:
        """A line that reads like an entry of the error queue, as some supplies answer."""
        return str(ScpiError(code if code in ERRORS else -200)).encode("ascii") + self._terminator

    def pose_as(self, serial: int | None) -> None:
        """Give itself out for another supply."""
        rig = self._instrument.rig
        self._instrument.posing_as = None if serial is None else rig.scene.supply.identity(serial)

    def restart(self) -> None:
        """Be as after switching on."""
        self._buffer.clear()
        self._is_dropping = False
        self._instrument.restart()

    def _overrun(self, message: bytes, t_s: float) -> None:
        self._instrument.status.report(ScpiError(-363))
        self._exchanges.append(self.unheard(message[:64] + b"...", t_s))

    def _answer(self, message: bytes, t_s: float) -> None:
        self._instrument.status.look()
        answers: list[str] = []
        commands: list[str] = []
        try:
            self._do_all(message, answers, commands)
        except ScpiError as error:
            self._instrument.status.report(error)
        answer = ";".join(answers) if answers else None
        self._say(
            Exchange(
                t_s,
                self._shown(message),
                answer,
                self._instrument.rig.truth(),
                tuple(commands),
                asked=message,
                sent=b"" if answer is None else answer.encode("ascii") + self._terminator,
                tags=self._instrument.meters.take_tags(),
            )
        )

    def _do_all(self, message: bytes, answers: list[str], commands: list[str]) -> None:
        text = message[:-1].decode("latin-1")
        if not _PRINTABLE.fullmatch(text):
            raise ScpiError(-101)
        node: tuple[str, ...] = ()
        for part in filter(None, map(str.strip, text.split(";"))):
            typed, *rest = _BLANK.split(part, maxsplit=1)
            if not typed.endswith("?"):
                commands.append(part)  # before it is understood: a log must miss nothing
            header = split_header(typed)
            if not typed.startswith((":", "*")) and self._instrument.knows(node + header):
                header = node + header
            if not self._instrument.knows(header):
                raise ScpiError(-113)
            if not typed.startswith("*"):
                node = header[:-1]
            parameters = [word.strip() for word in rest[0].split(",")] if rest else []
            answer = self._instrument.do(header, parameters)
            if answer is not None:
                answers.append(answer)
