"""Supplies that ask for SCPI and keep to it more or less; bare answers, no simulator of ours."""

import time
from dataclasses import replace

from tests.drivers.instruments.instrument import Instrument, say
from tests.drivers.instruments.truth import Truth

IDN = "EXAMPLE,PS-15,A0017,1.04"
ERROR = '-113,"Undefined header"'


def pair(volts: str, amps: str, form: str = "{:.2f}", ends: str = "\n", **more: str) -> Instrument:
    """A supply with these two questions, each answered by its number alone."""
    return Instrument(
        more.pop("name", f"scpi, {volts}"),
        "scpi",
        "tcp",
        say(
            {
                "*IDN?": lambda t: IDN,
                volts: lambda t: form.format(t.volts()),
                amps: lambda t: form.format(t.amps()),
            },
            end=ends,
            otherwise=more.get("otherwise"),
        ),
        {"ask_volts": volts, "ask_amps": amps},
    )


def _usual(truth: Truth, text: str) -> str | None:
    match text:
        case "*IDN?":
            return IDN
        case "MEAS:VOLT?":
            return f"{truth.volts():.2f}"
        case "MEAS:CURR?":
            return f"{truth.amps():.2f}"
    return None


def rested(rest_s: float) -> Instrument:
    """A supply that does not hear a question that follows its answer too soon."""
    last = [0.0]

    def answer(truth: Truth, question: bytes) -> bytes | None:
        now_s = time.monotonic()
        if now_s - last[0] < rest_s:
            return None
        last[0] = now_s
        text = question.decode("latin-1").strip()
        says = {
            "*IDN?": IDN,
            "MEAS:VOLT?": f"{truth.volts():.2f}",
            "MEAS:CURR?": f"{truth.amps():.2f}",
        }
        return f"{says[text]}\n".encode() if text in says else None

    return Instrument(f"scpi, deaf for {rest_s:g} s after its answer", "scpi", "pty", answer)


_ALL = (
    pair("MEAS:VOLT? (@1)", "MEAS:CURR? (@1)", otherwise=ERROR),
    pair("MEAS:VOLT? CH1", "MEAS:CURR? CH1"),
    pair("MEAS:VOLT?,1", "MEAS:CURR?,1"),
    pair("MEASURE:VOLTAGE:DC?", "MEASURE:CURRENT:DC?", "{:+.5E}"),
    pair("VOUT1?", "IOUT1?", ends="\r\n"),
    pair("V1O?", "I1O?", otherwise="ERR 02"),
    pair(":FETC:VOLT?", ":FETC:CURR?", "{:.3f}", ends="\r"),
    Instrument(
        "scpi, no name, errors",
        "scpi",
        "tcp",
        say(
            {
                "MEAS:VOLT?": lambda t: f"{t.volts():+.4E}",
                "MEAS:CURR?": lambda t: f"{t.amps():+.4E}",
            },
            end="\n",
            otherwise=ERROR,
        ),
    ),
    Instrument(
        "scpi, no name, silent",
        "scpi",
        "pty",
        say(
            {
                "MEAS:VOLT?": lambda t: f"{t.volts():.3f}V",
                "MEAS:CURR?": lambda t: f"{t.amps():.3f}A",
            },
            end="\n",
        ),
    ),
    Instrument(
        "scpi, all in one answer with units",
        "scpi",
        "tcp",
        say(
            {
                "*IDN?": lambda t: IDN,
                "MEAS:ALL?": lambda t: f"{t.volts():.2f} V, {t.amps():.2f} A, CV",
            },
            end="\n",
            otherwise=ERROR,
        ),
        {"ask_volts": "MEAS:ALL?", "ask_amps": "MEAS:ALL?"},
    ),
    Instrument(
        "scpi, prompt and echo",
        "scpi",
        "pty",
        lambda t, q: _shell(t, q),
    ),
    rested(0.12),
)


def _shell(truth: Truth, question: bytes) -> bytes | None:
    """A supply with a shell for people: it echoes, answers, and prompts."""
    text = question.decode("latin-1").strip()
    answer = _usual(truth, text) or "unknown command"
    return f"{text}\r\n{answer}\r\n> ".encode() if text else None


EACH_TIME = (
    "(@1)",
    "no name, errors",
    "prompt",
    "all in one",
)
"""Parts of the names of those that every `make test` tries."""
INSTRUMENTS = tuple(
    replace(each, is_trial=not any(part in each.name for part in EACH_TIME)) for each in _ALL
)
