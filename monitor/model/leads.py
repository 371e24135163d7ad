"""Copper leads: their resistance, volt drop and heat, by gauge and length."""

from dataclasses import dataclass

OHM_M_AT_20 = 1e-6 / 58.0
"""Copper of 100 % IACS at 20 C: 1/58 ohm mm2/m (IEC 60028)."""
COPPER_PER_KELVIN = 0.00393
"""Temperature coefficient of copper's resistance at 20 C (IEC 60028)."""


def gauge_mm(awg: float) -> float:
    """Diameter of an American wire gauge, millimetres; 0 is 1/0, -1 is 2/0 and so on.

    >>> round(gauge_mm(36), 3), round(gauge_mm(-3), 2)
    (0.127, 11.68)

    References
    ----------
    ASTM B258: 0.127 mm x 92^((36 - n) / 39).
    """
    return 0.127 * float(92.0 ** ((36.0 - awg) / 39.0))


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
        area_m2 = 0.25e-6 * 3.141592653589793 * gauge_mm(self.awg) ** 2
        cold = OHM_M_AT_20 * self.metres / area_m2
        return cold * (1.0 + COPPER_PER_KELVIN * (celsius - 20.0))
