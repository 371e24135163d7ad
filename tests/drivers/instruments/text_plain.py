"""Supplies and meters that answer in text of their maker's own."""

import json
from dataclasses import replace

from tests.drivers.instruments.instrument import Instrument, say
from tests.drivers.instruments.truth import Truth


def plain(name: str, volts: str, amps: str, **more: object) -> Instrument:
    """A supply that is asked `V?` and `I?`; both forms are made with the value as `{}`."""
    ends = str(more.pop("ends", "\r\n"))
    return Instrument(
        f"lines, {name}",
        "lines",
        "pty",
        say(
            {
                "V?": lambda t: volts.format(t.volts()),
                "I?": lambda t: amps.format(t.amps()),
            },
            end=ends,
        ),
        {"ask_volts": "V?", "ask_amps": "I?"},
        **more,  # type: ignore[arg-type]  # the tests' own words
    )


def joined(
    name: str, says: object, ask: str = "READ?", ends: str = "\r\n", **more: object
) -> Instrument:
    """A supply that answers one question with all that it knows."""
    return Instrument(
        f"lines, {name}",
        "lines",
        "tcp",
        say({ask: says}, end=ends),  # type: ignore[dict-item]
        {"ask_volts": ask, "ask_amps": ask, **more.pop("manual", {})},  # type: ignore[dict-item]
        **more,  # type: ignore[arg-type]
    )


def milli(value: float, unit: str) -> str:
    """With a unit by the range."""
    return f"{1000 * value:.0f} m{unit}" if value < 1.0 else f"{value:.2f} {unit}"


def trailing(value: float) -> str:
    """Without zeros at the end."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def as_json(truth: Truth) -> str:
    """Keys in another order each time, as some libraries write them."""
    volts, amps = truth.volts(), truth.amps()
    items = [("mode", "CV"), ("out", {"i": round(amps, 2), "v": round(volts, 2)}), ("n", 17)]
    if round(volts * 100) % 4:
        items.reverse()
    return json.dumps(dict(items))


_ALL = (
    plain("padded with spaces", "V={:6.2f}", "I={:6.2f}"),
    plain("left justified", "{:<7.2f}V", "{:<7.2f}A"),
    Instrument(
        "lines, units by the range",
        "lines",
        "pty",
        say({"V?": lambda t: milli(t.volts(), "V"), "I?": lambda t: milli(t.amps(), "A")}),
        {"ask_volts": "V?", "ask_amps": "I?"},
    ),
    Instrument(
        "lines, zeros left off",
        "lines",
        "pty",
        say({"V?": lambda t: trailing(t.volts()), "I?": lambda t: trailing(t.amps())}),
        {"ask_volts": "V?", "ask_amps": "I?"},
        settings=((6.5, 2.31), (8.48, 4.07)),
    ),
    Instrument(
        "lines, hexadecimal",
        "lines",
        "pty",
        say(
            {
                "V?": lambda t: f"{round(t.volts() * 100):04X}",
                "I?": lambda t: f"{round(t.amps() * 100):04X}",
            },
            end="\r",
        ),
        {"ask_volts": "V?", "ask_amps": "I?"},
    ),
    plain("no end at all", "{:05.2f}V", "{:05.2f}A", ends=""),
    plain("no end at all, numbers alone", "{:05.2f}", "{:05.2f}", ends=""),
    joined("decimal comma", lambda t: f"{t.volts():.2f};{t.amps():.2f}".replace(".", ",")),
    joined("sign behind", lambda t: f"{t.volts():06.2f}+ {t.amps():06.2f}+"),
    joined("JSON, keys in any order", as_json, ends="\n"),
    joined(
        "columns with texts of any length",
        lambda t: (
            f"{50000 + round(t.volts() * 37)},{'OK' if t.volts() < 7 else 'warm, dry'!r},"
            f"{t.volts():.2f},{t.amps():.2f},".replace("'", '"')
        ),
    ),
    joined(
        "set and measured side by side",
        lambda t: f"U {t.settings[t.setting][0]:.2f} {t.volts():.2f} I 10.00 {t.amps():.2f}",
        manual={"Which one is measured": "2"},
        settings=((6.10, 2.31), (8.46, 4.07)),
    ),
    joined(
        "two channels in one line",
        lambda t: f"CH1 {t.volts():.2f}V {t.amps():.2f}A CH2 05.00V 0.123A",
    ),
    joined("two lines for one question", lambda t: f"U: {t.volts():.2f}\r\nI: {t.amps():.2f}"),
    joined("OK behind each answer", lambda t: f"{t.volts():.2f} {t.amps():.2f}\r\nOK"),
    joined(
        "framed by control characters",
        lambda t: f"\x02{t.volts():.2f};{t.amps():.2f}\x03",
    ),
)


EACH_TIME = (
    "padded",
    "units by",
    "JSON",
    "two lines",
)
"""Parts of the names of those that every `make test` tries."""
INSTRUMENTS = tuple(
    replace(each, is_trial=not any(part in each.name for part in EACH_TIME)) for each in _ALL
)
