"""What a charge leaves in the bath and in the air: chromium, caustic used up, gas.

Overall, six electrons: Cr + 2 OH- + 2 H2O -> CrO4(2-) + 3 H2.
"""

from monitor.model.faraday import (
    AMP_HOURS_PER_MOL,
    CHROMIUM_G_PER_CM3,
    CHROMIUM_G_PER_MOL,
    grams_per_amp_hour,
)

CAUSTIC_G_PER_MOL = 39.997
"""NaOH (IUPAC standard atomic weights)."""
GAS_J_PER_MOL_KELVIN = 8.31446261815324
"""Molar gas constant, exact (CODATA 2018)."""
PASCAL = 101_325.0


def chromium_grams(
    area_dm2: float, micrometres: float, g_per_cm3: float = CHROMIUM_G_PER_CM3
) -> float:
    """Chromium on a part, all of which goes into the bath; 1 dm2 by 1 um is 0.01 cm3.

    >>> round(chromium_grams(1.0, 0.25) * 1000.0, 2)
    17.98
    """
    return area_dm2 * micrometres * 0.01 * g_per_cm3


def caustic_grams_per_amp_hour(efficiency: float = 1.0) -> float:
    """NaOH that an ampere-hour uses up: two of every six electrons' worth.

    >>> round(caustic_grams_per_amp_hour(), 3)
    0.497
    """
    moles_of_chromium = grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6) / CHROMIUM_G_PER_MOL
    return 2.0 * moles_of_chromium * efficiency * CAUSTIC_G_PER_MOL


def hydrogen_litres_per_amp_hour(celsius: float = 25.0) -> float:
    """Hydrogen at the cathode, dry at 101.325 kPa; two electrons a molecule (ideal gas).

    >>> round(hydrogen_litres_per_amp_hour(0.0), 4), round(hydrogen_litres_per_amp_hour(), 4)
    (0.4181, 0.4564)
    """
    return _litres_per_mol(celsius) / (2.0 * AMP_HOURS_PER_MOL)


def oxygen_litres_per_amp_hour(celsius: float = 25.0) -> float:
    """Oxygen at the anode if all current made it; four electrons a molecule."""
    return _litres_per_mol(celsius) / (4.0 * AMP_HOURS_PER_MOL)


def _litres_per_mol(celsius: float) -> float:
    return 1000.0 * GAS_J_PER_MOL_KELVIN * (celsius + 273.15) / PASCAL
