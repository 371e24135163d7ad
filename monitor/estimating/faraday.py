"""Charge in, metal out: Faraday's constant and the electrochemical equivalents built on it."""

COULOMB_PER_MOL = 96485.33212331001
"""Faraday constant, C/mol; exact since 2019 (CODATA 2018)."""

COULOMB_PER_AMP_HOUR = 3600.0

AMP_HOURS_PER_MOL = COULOMB_PER_MOL / COULOMB_PER_AMP_HOUR

CHROMIUM_G_PER_MOL = 51.9961
"""IUPAC standard atomic weight (from memory)."""

NICKEL_G_PER_MOL = 58.6934
"""IUPAC standard atomic weight (from memory)."""


def grams_per_amp_hour(grams_per_mol: float, electrons: int) -> float:
    """Mass that one ampere-hour dissolves or deposits at 100 % current efficiency, g/Ah.

    Parameters
    ----------
    grams_per_mol
        Molar mass of the metal.
    electrons
        Electrons per atom: 6 for chromium going into an alkaline bath as chromate.

    Examples
    --------
    >>> round(grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6), 5)
    0.32334

    References
    ----------
    Faraday's laws of electrolysis; CODATA 2018 for the constant.
    """
    return grams_per_mol / (electrons * AMP_HOURS_PER_MOL)
