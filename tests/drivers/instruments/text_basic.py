"""Text instruments of the commonest manners; by raw sockets and pseudo-terminals."""

from tests.drivers.instruments.instrument import Instrument, say

IDN = "EXAMPLE,PS-15,A0017,1.04"

INSTRUMENTS = (
    Instrument(
        "scpi, exponents, TCP",
        "scpi",
        "tcp",
        say(
            {
                "*IDN?": lambda t: IDN,
                "MEAS:VOLT?": lambda t: f"{t.volts():+.4E}",
                "MEAS:CURR?": lambda t: f"{t.amps():+.4E}",
            },
            end="\n",
        ),
    ),
    Instrument(
        "scpi, units, serial",
        "scpi",
        "pty",
        say(
            {
                "*IDN?": lambda t: IDN,
                "MEAS:VOLT?": lambda t: f"{t.volts():.2f}V",
                "MEAS:CURR?": lambda t: f"{t.amps():.2f}A",
                "OUTP?": lambda t: "1",
                "SYST:ERR?": lambda t: '0,"No error"',
            }
        ),
    ),
    Instrument(
        "scpi, says off while it delivers",
        "scpi",
        "tcp",
        say(
            {
                "*IDN?": lambda t: IDN,
                "MEAS:VOLT?": lambda t: f"{t.volts():.3f}",
                "MEAS:CURR?": lambda t: f"{t.amps():.3f}",
                "MEAS:VOLT?;:MEAS:CURR?": lambda t: f"{t.volts():.3f};{t.amps():.3f}",
                "OUTP?": lambda t: "0",
            },
            end="\n",
        ),
    ),
    Instrument(
        "lines, exponent and unit",
        "lines",
        "pty",
        say(
            {
                "V?": lambda t: f"{t.volts():+.4E},V",
                "I?": lambda t: f"{t.amps():+.4E},A",
            }
        ),
        {"ask_volts": "V?", "ask_amps": "I?"},
    ),
    Instrument(
        "lines, one pair",
        "lines",
        "pty",
        say({"READ?": lambda t: f"{t.volts():05.2f};{t.amps():05.2f};CV"}, end="\r"),
        {"ask_volts": "READ?", "ask_amps": "READ?"},
    ),
    Instrument(
        "lines, two questions of one form, no name",
        "lines",
        "tcp",
        say({"VOUT?": lambda t: f"{t.volts():.2f}", "IOUT?": lambda t: f"{t.amps():.2f}"}),
        {"ask_volts": "VOUT?", "ask_amps": "IOUT?"},
    ),
    Instrument(
        "lines, two questions of one form, serial, fixed width",
        "lines",
        "pty",
        say({"U?": lambda t: f"{t.volts():06.2f}", "I?": lambda t: f"{t.amps():06.2f}"}),
        {"ask_volts": "U?", "ask_amps": "I?"},
    ),
    Instrument(
        "talker, ten lines a second",
        "lines",
        "pty",
        lambda truth, question: None,
        unasked=(lambda t: f"V={t.volts():05.2f} A={t.amps():05.2f}\r\n".encode(), 0.1),
    ),
)
