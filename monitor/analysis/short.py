"""Volts and amps in; whether the amps go past the bath, out: at the first sample that shows it."""

from dataclasses import dataclass

LEAST_CELL_VOLTS = 1.0
"""Water is not split under 1.23 V (CRC Handbook's Gibbs energies): what flows below is metal."""
LEAST_SHARE = 0.2
"""Share of the limit under which a short would do no harm yet."""
TIMES = 2.2
"""A second part like the first doubles the amps; a short does more."""
LEAST_ABOVE = 0.5
KNOWN_S = 3.0
"""For so long the conductance before a change is still that of the bath."""
STAYS = 2.0


@dataclass(frozen=True, slots=True)
class Short:
    """What was seen: volts over amps, and the amps that the bath alone would have drawn."""

    ohms: float
    amps: float
    bath_amps: float | None


class ShortWatch:
    """Sees a short by two signs, each on a single sample.

    1. Current flows at volts, less the leads' own drop, at which no cell conducts.
    2. The amps are 2.2 times what the bath's conductance of a moment ago draws at these volts.

    It is over when volts over amps have doubled, or nothing flows.

    Parameters
    ----------
    limit_amps
        Where the supply cuts out or holds.
    lead_ohms
        Of the leads, where known.

    Examples
    --------
    >>> watch = ShortWatch(40.0)
    >>> watch.update(10.0, 8.0, 24.0, 3.9, 1.8) is None
    True
    >>> watch.update(10.2, 2.2, 52.0, None, 1.8).ohms < 0.05
    True
    """

    __slots__ = ("_amps", "_known_s", "_lead_ohms", "_siemens", "now")

    def __init__(self, limit_amps: float, lead_ohms: float = 0.0) -> None:
        self._amps = LEAST_SHARE * limit_amps
        self._lead_ohms = lead_ohms
        self._siemens: float | None = None
        self._known_s = 0.0
        self.now: Short | None = None

    def update(
        self,
        t_s: float,
        volts: float,
        amps: float,
        siemens: float | None,
        polarisation_volts: float,
    ) -> Short | None:
        """Take one sample and the conductance that stands after it; None without a short."""
        found = None
        if amps >= self._amps:
            ohms = volts / amps
            if self.now is not None:
                found = self.now if ohms < STAYS * self.now.ohms else None
            else:
                found = self._seen(t_s, volts, amps, ohms, polarisation_volts)
        self.now = found
        if siemens is not None and found is None:
            self._siemens, self._known_s = siemens, t_s
        return found

    def _seen(
        self, t_s: float, volts: float, amps: float, ohms: float, polarisation_volts: float
    ) -> Short | None:
        bath_amps = None
        if self._siemens is not None and t_s - self._known_s <= KNOWN_S:
            bath_amps = self._siemens * max(volts - polarisation_volts, LEAST_ABOVE)
        if volts - amps * self._lead_ohms < LEAST_CELL_VOLTS:
            return Short(ohms, amps, bath_amps)
        if bath_amps is not None and amps > TIMES * bath_amps:
            return Short(ohms, amps, bath_amps)
        return None
