"""Faraday's law: the metal that a charge dissolves, by the equivalent of each metal."""

COULOMB_PER_MOL = 96485.33212331001
"""Faraday constant, C/mol; exact since 2019 (CODATA 2018)."""

COULOMB_PER_AMP_HOUR = 3600.0

AMP_HOURS_PER_MOL = COULOMB_PER_MOL / COULOMB_PER_AMP_HOUR

CHROMIUM_G_PER_MOL = 51.9961
"""IUPAC standard atomic weight (from memory)."""

NICKEL_G_PER_MOL = 58.6934
"""IUPAC standard atomic weight (from memory)."""

CHROMIUM_G_PER_CM3 = 7.19
"""Of chromium metal; electrodeposits run from 6.9 to 7.2 (trade tables): a default only."""


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


def amp_hours_to_strip(
    area_dm2: float,
    micrometres: float,
    g_per_cm3: float = CHROMIUM_G_PER_CM3,
    electrons: float = 6.0,
    efficiency: float = 1.0,
) -> float:
    """Charge that takes a layer of chromium off; at 100 % a lower bound, for oxygen takes a share.

    Parameters
    ----------
    area_dm2, micrometres, g_per_cm3
        The layer: 1 dm2 by 1 um is 0.01 cm3.
    electrons
        Per atom; 6 to chromate, and down to 3.5 was found at high potentials (anodic dissolution
        of chromium in sodium nitrate, 2019).
    efficiency
        Share of the current that dissolves chromium, over 0 to 1.

    Examples
    --------
    1 dm2 of 0.3 um, decorative chromium by ISO 1456, is 240.2 C:

    >>> round(amp_hours_to_strip(1.0, 0.3) * 3600, 1)
    240.2

    Raises
    ------
    ValueError
        For an efficiency over 1 or not over 0.

    References
    ----------
    Faraday's laws of electrolysis.
    """
    if not 0.0 < efficiency <= 1.0:
        raise ValueError(f"current efficiency must lie over 0 and up to 1, not {efficiency}")
    grams = area_dm2 * micrometres * 0.01 * g_per_cm3
    return grams / (grams_per_amp_hour(CHROMIUM_G_PER_MOL, 6) * 6.0 / electrons * efficiency)


def micrometres_stripped(amp_hours: float, area_dm2: float, efficiency: float = 1.0) -> float:
    """Thickness that a charge takes off: the other way round; see `amp_hours_to_strip`.

    >>> round(micrometres_stripped(amp_hours_to_strip(2.0, 0.5), 2.0), 9)
    0.5
    """
    return amp_hours / amp_hours_to_strip(area_dm2, 1.0, efficiency=efficiency)
