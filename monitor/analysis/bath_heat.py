"""The temperature of the bath, measured or by heat balance, and the rise that warming explains."""

import math

JOULES_PER_LITRE_KELVIN = 4150.0
"""5 % caustic: 3940 J/(kg K) by 1.0519 kg/L is 4144 (Laliberte 2009); water is 4169."""
WATTS_PER_KELVIN_AT_ONE_LITRE = 1.0
"""Loss of an open pot of one litre; grows with the surface (common practice, no source)."""
ROOM_CELSIUS = 20.0
CAUSTIC_PER_KELVIN = 0.0175
"""Rise of conductance per kelvin at 25 C: NaOH 0.64 mol/L 1.71 %/K (Landolt-Boernstein, as a meter
manual quotes it), 5 % NaOH 1.75 %/K (McCleskey, J. Chem. Eng. Data 56 (2011) 317)."""
LEAST_RISE = 0.02
HELD_S = 60.0


class BathTemperature:
    """The bath's temperature: measured, or else by its own heat balance.

    The balance takes all electrical power as heat; that is an upper bound, since part of it
    leaves as gas and chromate. A measured value beats the estimate, and is held for a minute
    where the probe misses a poll.

    Parameters
    ----------
    litres
        Solution in the bath; None leaves only the measured temperature.
    start_celsius, room_celsius
        What to assume at the start and around the bath.

    Examples
    --------
    100 W into one litre of water is 1.44 K a minute before losses (4184.8 J/(kg K), IAPWS-IF97):

    >>> bath = BathTemperature(1.0)
    >>> for second in range(61):
    ...     bath.update(float(second), 100.0, None)
    >>> round(bath.celsius - 20.0, 2)
    1.44

    References
    ----------
    First law for a stirred vessel of one temperature; heat capacity by Laliberte 2009.
    """

    __slots__ = (
        "_balance_celsius",
        "_joules_per_kelvin",
        "_last_s",
        "_measured_s",
        "_room_celsius",
        "_start_celsius",
        "_watts_per_kelvin",
        "celsius",
    )

    def __init__(
        self,
        litres: float | None,
        start_celsius: float = ROOM_CELSIUS,
        room_celsius: float = ROOM_CELSIUS,
    ) -> None:
        self._joules_per_kelvin = None if litres is None else JOULES_PER_LITRE_KELVIN * litres
        self._watts_per_kelvin = (
            0.0 if litres is None else WATTS_PER_KELVIN_AT_ONE_LITRE * litres ** (2.0 / 3.0)
        )
        self._room_celsius = room_celsius
        self._balance_celsius = start_celsius
        self._start_celsius: float | None = None if litres is None else start_celsius
        self.celsius: float | None = self._start_celsius
        self._last_s: float | None = None
        self._measured_s: float | None = None

    def update(self, t_s: float, watts: float, measured_celsius: float | None) -> None:
        """Take one sample: the power since the last one, and the probe's value if it gave one."""
        joules_per_kelvin = self._joules_per_kelvin
        if joules_per_kelvin is not None:
            balance = self._balance_celsius
            if self._last_s is not None:
                lost = self._watts_per_kelvin * (balance - self._room_celsius)
                balance += (watts - lost) * (t_s - self._last_s) / joules_per_kelvin
                self._balance_celsius = balance
            self._last_s = t_s
        if measured_celsius is not None and -50.0 < measured_celsius < 200.0:
            if self._measured_s is None:
                # The balance's rise so far counts back to what the probe would have shown.
                risen = 0.0 if self.celsius is None else self.celsius - (self._start_celsius or 0.0)
                self._start_celsius = measured_celsius - risen
            self._measured_s = t_s
            # From here on the balance follows the probe, for when it falls out.
            self._balance_celsius = self.celsius = measured_celsius
        elif joules_per_kelvin is not None:
            if self._measured_s is None or t_s - self._measured_s > HELD_S:
                self.celsius = self._balance_celsius
        elif self._measured_s is not None and t_s - self._measured_s > HELD_S:
            self.celsius = None

    def warming_rise(self, per_kelvin: float) -> float | None:
        """What warming since the start does to the conductance: 0.1 is a tenth more."""
        if self.celsius is None or self._start_celsius is None:
            return None
        then = at_25(1.0, self._start_celsius, per_kelvin)
        now = at_25(1.0, self.celsius, per_kelvin)
        return None if then is None or now is None else then / now - 1.0

    def share_of(self, rise: float, per_kelvin: float) -> float | None:
        """Share of a rise of ln(conductance) since the start that warming explains."""
        if self.celsius is None or self._start_celsius is None:
            return None
        return warming_share(rise, self._start_celsius, self.celsius, per_kelvin)


def at_25(siemens: float, celsius: float, per_kelvin: float = CAUSTIC_PER_KELVIN) -> float | None:
    """A conductance referred to 25 C; None so far below that the straight line means nothing.

    Examples
    --------
    5 % caustic conducts 20.6 S/m at 20 C (CRC Handbook, Electrical Conductivity of Aqueous
    Solutions) and so some 22.6 S/m at 25 C:

    >>> round(at_25(20.6, 20.0), 1)
    22.6

    References
    ----------
    Linear compensation kappa25 = kappa / (1 + alpha (T - 25)): ISO 7888:1985 / EN 27888:1993.
    """
    factor = 1.0 + per_kelvin * (celsius - 25.0)
    return siemens / factor if factor > 0.05 else None


def warming_share(
    rise: float, start_celsius: float, celsius: float, per_kelvin: float = CAUSTIC_PER_KELVIN
) -> float | None:
    """Share of a rise of conductance that warming explains, 0 to 1.

    Parameters
    ----------
    rise
        ln(conductance now / at the start); None is returned under 2 %, where noise decides.
    start_celsius, celsius
        Temperatures then and now.
    per_kelvin
        Relative rise of the conductance per kelvin, referred to 25 C.

    Examples
    --------
    >>> round(warming_share(0.0953, 20.0, 23.0), 3)
    0.587
    >>> warming_share(0.001, 20.0, 23.0) is None
    True

    References
    ----------
    Linear compensation referred to 25 C: EN 27888:1993 / ISO 7888:1985.
    """
    if rise < LEAST_RISE:
        return None
    then = 1.0 + per_kelvin * (start_celsius - 25.0)
    now = 1.0 + per_kelvin * (celsius - 25.0)
    if then <= 0.0 or now <= 0.0:
        return None
    share = math.log(now / then) / rise
    return max(0.0, min(share, 1.0))
