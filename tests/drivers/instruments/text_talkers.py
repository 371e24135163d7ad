"""Meters that speak by themselves."""

import json
from collections.abc import Callable
from dataclasses import replace

from tests.drivers.instruments.instrument import Instrument
from tests.drivers.instruments.truth import Truth


def talker(name: str, says: Callable[[Truth], str], every_s: float) -> Instrument:
    """Speaks every so often."""
    return Instrument(
        f"talker, {name}",
        "lines",
        "pty",
        lambda truth, question: None,
        unasked=(lambda t: says(t).encode("latin-1"), every_s),
    )


_ALL = (
    talker("padded", lambda t: f"{t.volts():6.2f} V {t.amps():6.2f} A\r\n", 0.1),
    talker(
        "JSON",
        lambda t: json.dumps({"ch": [{"v": round(t.volts(), 2), "i": round(t.amps(), 2)}]}) + "\n",
        0.1,
    ),
    talker(
        "time of day before",
        lambda t: (
            f"12:{int(t.volts() * 7) % 60:02}:{int(t.amps() * 13) % 60:02},"
            f"{t.volts():.2f},{t.amps():.2f}\r\n"
        ),
        0.1,
    ),
    talker(
        "volts and amps on lines of their own",
        lambda t: f"V={t.volts():.2f}\r\nI={t.amps():.2f}\r\n",
        0.2,
    ),
    talker("once in two seconds", lambda t: f"U{t.volts():06.2f}I{t.amps():06.2f}\r\n", 2.0),
)


EACH_TIME = ("lines of their own",)
"""Parts of the names of those that every `make test` tries."""
INSTRUMENTS = tuple(
    replace(each, is_trial=not any(part in each.name for part in EACH_TIME)) for each in _ALL
)
