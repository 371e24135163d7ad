"""One instrument that nobody of this project wrote: how it is reached, asked and answered."""

import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from tests.drivers.instruments.mischief import KINDS, Mischief
from tests.drivers.instruments.truth import SETTINGS, Truth
from tests.drivers.instruments.vxi11_wire import Vxi11End
from tests.drivers.instruments.wire import End, PtyEnd, TcpEnd

Says = Callable[[Truth], str]
Answers = Callable[[Truth, bytes], bytes | None]


@dataclass(frozen=True, slots=True)
class Instrument:
    """What its maker made, and what its manual says.

    Parameters
    ----------
    kind
        The driver that it needs: "lines", "scpi", "modbus".
    wire
        "pty" for a serial cable, "tcp" for the network, "vxi11" for VISA.
    answer
        What it answers to one question: bytes to bytes, None for nothing.
    manual
        What the operator reads in its manual: the answers to the questions of `commission`.
    options
        Of its address, such as "?unit=3".
    by_line
        Its questions end with CR or LF; else with a silence.
    unasked
        What it says by itself, and how often in seconds.
    asks
        The questions of its manual, beside those in `manual`: what may be sent to it.
    holds_s
        For how long a value stays before it is measured again; 0 where it is measured when asked.
    kinds
        The faults that may meet it.
    is_trial
        It is tried by `make trials` only, since another of its kind is tried each time.
    flags
        Options that `commission` needs beside what it asks; best none.
    """

    name: str
    kind: Literal["lines", "scpi", "modbus"]
    wire: Literal["pty", "tcp", "vxi11"]
    answer: Answers
    manual: Mapping[str, str] = field(default_factory=dict)
    options: str = ""
    by_line: bool = True
    unasked: tuple[Callable[[Truth], bytes], float] | None = None
    asks: frozenset[str] = frozenset()
    volts_step: float = 0.01
    amps_step: float = 0.01
    settings: tuple[tuple[float, float], ...] = SETTINGS
    holds_s: float = 0.0
    kinds: tuple[str, ...] = KINDS
    flags: tuple[str, ...] = ()
    is_trial: bool = False

    def __str__(self) -> str:
        return self.name.replace(" ", "-")

    @property
    def questions(self) -> frozenset[str]:
        """All texts by which its manual says that it may be asked."""
        named = (text for key, text in self.manual.items() if key.startswith("ask_"))
        return self.asks | frozenset(named)


@dataclass(frozen=True, slots=True)
class Bench:
    """One instrument, wired and switched on.

    Parameters
    ----------
    place
        Its port, as `find --ask` takes it.
    """

    instrument: Instrument
    truth: Truth
    mischief: Mischief
    end: End
    place: str

    @property
    def address(self) -> str:
        """As its manual and a reader of ours would write it."""
        is_whole = self.place.startswith("visa:")
        return self.place if is_whole else f"{self.instrument.kind}:{self.place}"


@contextmanager
def wired(instrument: Instrument, timeout_s: float, seed: int = 1) -> Iterator[Bench]:
    """Switch an instrument on.

    Parameters
    ----------
    timeout_s
        The time-out of the driver that will ask it: faults last about as long.
    """
    truth = Truth(instrument.volts_step, instrument.amps_step, instrument.settings)
    truth.is_held = instrument.holds_s > 0.0
    unasked = instrument.unasked
    mischief = Mischief(seed, timeout_s, instrument.kinds, holds_back=unasked is None)
    says = None if unasked is None else (lambda: unasked[0](truth), unasked[1])

    def answer(question: bytes) -> bytes | None:
        return instrument.answer(truth, question)

    with tempfile.TemporaryDirectory(prefix="instrument-") as folder:
        end: End
        if instrument.wire == "pty":
            end = PtyEnd(Path(folder) / "port", answer, mischief, instrument.by_line, says)
        elif instrument.wire == "vxi11":
            end = Vxi11End(answer, mischief)
        else:
            end = TcpEnd(answer, mischief, instrument.by_line, says)
        end.start()
        try:
            yield Bench(instrument, truth, mischief, end, f"{end.place}{instrument.options}")
        finally:
            end.close()


def say(table: Mapping[str, Says], end: str = "\r\n", otherwise: str | None = None) -> Answers:
    """What a supply answers that knows these questions; `otherwise` to all others."""

    def answer(truth: Truth, question: bytes) -> bytes | None:
        says = table.get(question.decode("latin-1").strip())
        if says is None:
            return None if otherwise is None else f"{otherwise}{end}".encode("latin-1")
        return f"{says(truth)}{end}".encode("latin-1")

    return answer
