"""SCPI instruments on VXI-11, each of another manner."""

from tests.drivers.instruments.instrument import Instrument, say

WHOLE = ("delayed", "silence", "stall", "reset")
"""What may meet whole messages: they are never torn, doubled or mixed with others."""

INSTRUMENTS = (
    Instrument(
        "VXI-11, a supply with a line feed",
        "scpi",
        "vxi11",
        say(
            {
                "*IDN?": lambda t: "WORKSHOP,BENCH-12,B0001,1.0",
                "MEAS:VOLT?": lambda t: f"{t.volts():.2f}",
                "MEAS:CURR?": lambda t: f"{t.amps():.2f}",
            },
            "\n",
        ),
        kinds=WHOLE,
    ),
    Instrument(
        "VXI-11, no line feed at the end, exponents",
        "scpi",
        "vxi11",
        say(
            {
                "*IDN?": lambda t: "WORKSHOP,BENCH-40,B0002,1.0",
                "MEAS:VOLT?": lambda t: f"{t.volts():+.5E}",
                "MEAS:CURR?": lambda t: f"{t.amps():+.5E}",
            },
            "",
        ),
        kinds=WHOLE,
    ),
)
