"""Copper leads: their resistance, volt drop and heat, and what they carry, by gauge and length."""

import math
from dataclasses import dataclass
from itertools import pairwise

OHM_M_AT_20 = 1e-6 / 58.0
"""Copper of 100 % IACS at 20 C: 1/58 ohm mm2/m (IEC 60028)."""
COPPER_PER_KELVIN = 0.00393
"""Temperature coefficient of copper's resistance at 20 C (IEC 60028)."""

JOULES_PER_M3_KELVIN = 8960.0 * 385.0
"""Copper's density and specific heat (CRC Handbook)."""
WARMER_KELVIN = 30.0
"""From the 30 C of the room to the 60 C that the insulation stands, as the table below has it."""
AMPACITIES = (
    (14.0, 25.0),
    (12.0, 30.0),
    (10.0, 40.0),
    (8.0, 60.0),
    (6.0, 80.0),
    (4.0, 105.0),
    (3.0, 120.0),
    (2.0, 140.0),
    (1.0, 165.0),
    (0.0, 195.0),
    (-1.0, 225.0),
    (-2.0, 260.0),
    (-3.0, 300.0),
)
"""Amps that one copper wire of each gauge carries for ever in free air (NFPA 70, National
Electrical Code, table 310.17, insulation for 60 C, room at 30 C; from memory)."""


def gauge_mm(awg: float) -> float:
    """Diameter of an American wire gauge, millimetres; 0 is 1/0, -1 is 2/0 and so on.

    >>> round(gauge_mm(36), 3), round(gauge_mm(-3), 2)
    (0.127, 11.68)

    References
    ----------
    ASTM B258: 0.127 mm x 92^((36 - n) / 39).
    """
    return 0.127 * float(92.0 ** ((36.0 - awg) / 39.0))


def gauge_amps(awg: float) -> float:
    """Amps that one copper wire of this gauge carries for ever in free air.

    Between the gauges of the table, by the logarithm; thinner than gauge 14 as the diameter to the
    power of 1.5, by which the surface keeps pace with the heat (common practice, no source).

    >>> gauge_amps(10), round(gauge_amps(9), 1), round(gauge_amps(18), 1)
    (40.0, 49.0, 12.5)
    """
    first, first_amps = AMPACITIES[0]
    if awg >= first:
        return first_amps * float((gauge_mm(awg) / gauge_mm(first)) ** 1.5)
    for (thin, thin_amps), (thick, thick_amps) in pairwise(AMPACITIES):
        if awg >= thick:
            share = (thin - awg) / (thin - thick)
            return math.exp((1.0 - share) * math.log(thin_amps) + share * math.log(thick_amps))
    return AMPACITIES[-1][1]


@dataclass(frozen=True, slots=True)
class Leads:
    """The copper between the supply's terminals and the bath, both ways.

    Parameters
    ----------
    awg
        American wire gauge.
    metres
        Of wire in the loop: there and back.

    Examples
    --------
    Four metres of gauge 10 at 30 A:

    >>> leads = Leads(10, 4.0)
    >>> round(30.0 * leads.ohms(), 3), round(900.0 * leads.ohms(), 1)
    (0.393, 11.8)
    """

    awg: float
    metres: float

    def ohms(self, celsius: float = 20.0) -> float:
        """Their resistance at this temperature of the copper."""
        cold = OHM_M_AT_20 * self.metres / self._area_m2
        return cold * (1.0 + COPPER_PER_KELVIN * (celsius - 20.0))

    @property
    def _area_m2(self) -> float:
        return 0.25e-6 * math.pi * gauge_mm(self.awg) ** 2

    @property
    def rated_amps(self) -> float:
        """What they carry for ever by their gauge."""
        return gauge_amps(self.awg)

    @property
    def time_constant_s(self) -> float:
        """Seconds in which they come to 63 % of their heat: the copper's own, without insulation.

        At the rated amps its watts keep it 30 K over the room, and its heat is what stands in it.

        >>> round(Leads(10, 4.0).time_constant_s), round(Leads(4, 4.0).time_constant_s)
        (104, 244)
        """
        heat = JOULES_PER_M3_KELVIN * WARMER_KELVIN * self._area_m2**2
        return heat / (self.rated_amps**2 * OHM_M_AT_20)
