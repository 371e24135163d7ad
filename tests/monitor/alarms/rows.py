"""A sample as the conditions are asked about it."""

from drivers.reading import Mode
from monitor.model.sample import Sample


def sample(t_s: float, volts: float, amps: float, mode: Mode = Mode.UNKNOWN) -> Sample:
    """At five polls a second, answered within a millisecond."""
    return Sample(round(t_s * 5), round(t_s * 1e9), 0, 1000, volts, amps, mode=mode)
