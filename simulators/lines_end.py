"""The supply's end of a link in plain ASCII that is not SCPI.

1. A question ends as the speech says; where it ends with nothing, a silence ends it.
2. A question that is in the speech is answered; everything else is put on record as a command, and
   answered with what the speech says to what is not understood.
3. A supply that speaks unasked hears nothing.
"""

from simulators.exchange import Exchange, Records
from simulators.meters import Meters
from simulators.speech import QUANTITIES, TERMINATORS, Speech, places

BUFFER_BYTES = 256


class LinesSupply:
    """The supply behind the links: what it says, filled in.

    Parameters
    ----------
    speech
        How it talks.
    meters
        What it measures.
    serial
        Its serial number.
    """

    def __init__(self, speech: Speech, meters: Meters, serial: int = 1) -> None:
        self.speech = speech
        self.meters = meters
        self.serial = serial
        self.posing_as: int | None = None

    def fill(self, say: str) -> str:
        """A saying with its places filled in."""
        for written, place, form in places(say):
            say = say.replace(written, self._word(place, form), 1)
        return say

    def _word(self, place: str, form: str) -> str:
        serial = self.serial if self.posing_as is None else self.posing_as
        if place in QUANTITIES:
            digits = int(form.rpartition(".")[2][0])
            value = self.meters.show(place, 10.0**-digits)
            return self.speech.no_value if value is None else format(value, form)
        if place == "serial":
            return format(serial, form)
        if place == "identity":
            return self.meters.rig.scene.supply.identity(serial)
        return self.speech.status.word(self.meters.mode)


class LinesEnd(Records):
    """One link to a supply; several may share one `LinesSupply`.

    Examples
    --------
    >>> from simulators.rig import Rig
    >>> from simulators.scene import load_scene
    >>> from simulators.speech import load_speech
    >>> meters = Meters(Rig(load_scene("quiet-strip")))
    >>> end = LinesEnd(LinesSupply(load_speech("asks-apart"), meters))
    >>> end.feed(b"V?\\rI?\\r", t_s=0.0)
    >>> end.take()
    b'V=0.00\\rI=+0.000A\\r'
    """

    def __init__(self, supply: LinesSupply) -> None:
        super().__init__(supply.meters.rig)
        self._supply = supply
        self._speech = supply.speech
        self._says = {answer.ask: answer.say for answer in supply.speech.answers}
        self._question_end = TERMINATORS[supply.speech.questions_end_with]
        self._answer_end = TERMINATORS[supply.speech.answers_end_with]
        self.every_s = supply.speech.every_s
        self.quiet_s = None if self._question_end else supply.speech.quiet_s

    def feed(self, data: bytes, t_s: float) -> None:
        """Take bytes that came at so many seconds of bath time."""
        self._first_rig.advance_to(t_s)
        if self.every_s is not None:
            self._exchanges.append(self.unheard(data, t_s))
            return
        self._buffer += data
        if end := self._question_end:
            while (length := self._buffer.find(end)) >= 0:
                asked = bytes(self._buffer[: length + len(end)])
                del self._buffer[: length + len(end)]
                self._answer(asked, asked[:length], t_s)
        if len(self._buffer) > BUFFER_BYTES:
            self._exchanges.append(self.unheard(bytes(self._buffer), t_s))
            self._buffer.clear()

    def pause(self, t_s: float) -> None:
        """Hear a silence: it ends a question where nothing else does."""
        if self.quiet_s is not None and self._buffer:
            self._first_rig.advance_to(t_s)
            asked = bytes(self._buffer)
            self._buffer.clear()
            self._answer(asked, asked, t_s)

    def speak(self, t_s: float) -> None:
        """Say what it says unasked."""
        self._first_rig.advance_to(t_s)
        self._note(b"", "", self._supply.fill(self._speech.unasked), t_s)

    def refusal(self, asked: bytes, code: int) -> bytes:
        """The answer that refuses a question."""
        return f"ERR {code}".encode("ascii") + self._answer_end

    def pose_as(self, serial: int | None) -> None:
        """Give itself out for another supply."""
        self._supply.posing_as = serial

    def restart(self) -> None:
        """Be as after switching on: output off, nothing set."""
        self._buffer.clear()
        self._first_rig.supply.power_on()

    def _answer(self, asked: bytes, question: bytes, t_s: float) -> None:
        text = question.decode("ascii", "backslashreplace").strip()
        if not text:
            return
        say = self._says.get(text)
        if say is None:
            self._note(asked, text, self._speech.not_understood or None, t_s, (text,))
        else:
            self._note(asked, text, self._supply.fill(say), t_s)

    def _note(
        self,
        asked: bytes,
        text: str,
        answer: str | None,
        t_s: float,
        commands: tuple[str, ...] = (),
    ) -> None:
        self._say(
            Exchange(
                t_s,
                text,
                answer,
                self._first_rig.truth(),
                commands,
                asked=asked,
                sent=b"" if answer is None else answer.encode("ascii") + self._answer_end,
                tags=self._supply.meters.take_tags(),
            )
        )
