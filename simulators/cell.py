"""One electrolytic cell as plain difference equations: volts at the leads make amps.

    conductance = siemens_at_25 * (1 + alpha (celsius - 25)) * (litres at start / litres)^0.86
                  * (1 + loading_per_amp_hour * amp-hours) * exp(wander) * contact
    amps        = conductance * (volts over the bath - polarisation), never backwards
    heat        = amps * (volts over the bath - thermoneutral) - loss to the room - evaporation
    chromium    : grams dissolved = efficiency * coulombs * 51.9961 / (6 * 96485.33)

Nothing is rounded or measured in here, and nothing is read from a clock: `Cell.step` goes on by a
fixed step.
"""

import math
from dataclasses import dataclass
from typing import Annotated

from simulators.form import Between

# CODATA 2018: exact, the product of the charge of one electron and the Avogadro constant.
FARADAY_C_PER_MOL = 96485.33212331
# IUPAC standard atomic weight (from memory); six electrons, since chromium leaves as chromate.
CHROMIUM_G_PER_MOL = 51.9961
CHROMIUM_ELECTRONS = 6
CHROMIUM_G_PER_CM3 = 7.19
CHROMIUM_G_PER_C = CHROMIUM_G_PER_MOL / (CHROMIUM_ELECTRONS * FARADAY_C_PER_MOL)

# +9.5 % for 10 % of the water gone, computed with PHREEQC for 50 g NaOH per kg water.
DRYING_EXPONENT = 0.86
# Slope of ln(vapour pressure of water) around 30 C: 2.339 kPa at 20 C, 7.384 at 40 (IAPWS-IF97).
VAPOUR_PER_KELVIN = 0.0575
# Heat of evaporation of water at 30 C, 2430 J/g (IAPWS-IF97), for one mL an hour.
WATTS_PER_ML_PER_HOUR = 2430.0 * 0.9957 / 3600.0
# With less than this share of its chromium left, a part counts as stripped.
STRIPPED_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class Bath:
    """The solution and its vessel.

    Parameters
    ----------
    name, litres
        What the workshop calls it, and how much is in it at the start.
    celsius, room_celsius
        At the start, and around it.
    watts_per_kelvin
        Heat lost to the room by wall and surface, evaporation apart.
    evaporation_ml_per_hour
        Water lost at 25 C; follows the vapour pressure.
    joules_per_litre_kelvin
        5 % NaOH: 3940 J/(kg K) by 1.0519 kg/L (Laliberte 2009).
    alpha_per_kelvin
        Rise of the conductance per kelvin, referred to 25 C.
    probe
        Whether a temperature probe is wired to the supply.
    """

    name: str
    litres: Annotated[float, Between(0.02, 2000.0)]
    celsius: Annotated[float, Between(0.0, 95.0)] = 21.0
    room_celsius: Annotated[float, Between(-10.0, 50.0)] = 20.0
    watts_per_kelvin: Annotated[float, Between(0.0, 1000.0)] = 2.5
    evaporation_ml_per_hour: Annotated[float, Between(0.0, 5000.0)] = 20.0
    joules_per_litre_kelvin: Annotated[float, Between(1000.0, 6000.0)] = 4144.0
    alpha_per_kelvin: Annotated[float, Between(0.0, 0.1)] = 0.0175
    probe: bool = False


@dataclass(frozen=True, slots=True)
class Circuit:
    """What the amps go through between the supply's terminals.

    Parameters
    ----------
    siemens_at_25
        Conductance of the solution between the part and the cathode at 25 C, at the start.
    polarisation_volts
        E0: the intercept of volts over amps while chromium dissolves.
    polarisation_rise_volts
        What E0 gains once the chromium is gone and the part makes oxygen instead.
    lead_ohms
        Leads, clips and contacts, both ways.
    thermoneutral_volts
        The part of the volts that leaves as chemistry and not as heat; 1.48 V splits water.
    loading_per_amp_hour
        Share by which the conductance changes per ampere-hour, beside warmth and lost water. In
        plain caustic chromate and carbonate conduct worse than the hydroxide that they take the
        place of (CRC limiting conductivities, 25 C: OH- 198, 1/2 CrO4-- 85, 1/2 CO3-- 69
        S cm2/mol), so it is negative there; grease that lets go and wets more area makes it
        positive.
    wander_share, wander_s
        Spread and correlation time of the slow noise on ln(conductance).
    """

    siemens_at_25: Annotated[float, Between(0.001, 1000.0)]
    polarisation_volts: Annotated[float, Between(0.0, 5.0)] = 1.8
    polarisation_rise_volts: Annotated[float, Between(-2.0, 2.0)] = 0.5
    lead_ohms: Annotated[float, Between(0.0, 10.0)] = 0.012
    thermoneutral_volts: Annotated[float, Between(0.0, 2.0)] = 1.48
    loading_per_amp_hour: Annotated[float, Between(-1.0, 10.0)] = 0.0
    wander_share: Annotated[float, Between(0.0, 0.2)] = 0.006
    wander_s: Annotated[float, Between(0.5, 3600.0)] = 30.0


@dataclass(frozen=True, slots=True)
class Part:
    """The work: how much chromium is on it, and how it comes off.

    Parameters
    ----------
    area_dm2, micrometres
        Area and thickness of the chromium.
    efficiency
        Share of the amps that dissolves chromium; the rest makes oxygen.
    patchy
        The share of the chromium that comes off last, in patches that shrink.
    """

    area_dm2: Annotated[float, Between(0.001, 1000.0)]
    micrometres: Annotated[float, Between(0.01, 200.0)] = 0.3
    efficiency: Annotated[float, Between(0.01, 0.999)] = 0.3
    patchy: Annotated[float, Between(0.001, 1.0)] = 0.15

    @property
    def grams(self) -> float:
        """Mass of the chromium: 1 dm2 by 1 um is 0.01 cm3."""
        return self.area_dm2 * self.micrometres * 0.01 * CHROMIUM_G_PER_CM3


class Cell:
    """One bath with a part and its leads, from its start on.

    Examples
    --------
    >>> cell = Cell(Bath("doc", 1.0, celsius=25.0), Circuit(2.0, 1.5, lead_ohms=0.0), None, 0.05)
    >>> cell.amps_at(6.5)
    10.0
    >>> cell.volts_at(10.0)
    6.5
    """

    def __init__(self, bath: Bath, circuit: Circuit, part: Part | None, dt_s: float) -> None:
        self._bath = bath
        self._circuit = circuit
        self._part = part
        self._dt_s = dt_s
        self.litres = bath.litres
        self.celsius = bath.celsius
        self.lead_ohms = circuit.lead_ohms
        self.short_siemens = 0.0
        self.amp_hours = 0.0
        self.chromium_grams = part.grams if part else 0.0
        self.polarisation_volts = circuit.polarisation_volts
        self.siemens = 0.0
        self._reckon(0.0, 1.0)

    @property
    def is_stripped(self) -> bool:
        """True once next to nothing of the chromium is left; never without a part."""
        part = self._part
        return part is not None and self.chromium_grams <= STRIPPED_SHARE * part.grams

    def amps_at(self, volts: float) -> float:
        """The amps that flow with so many volts at the supply's terminals."""
        siemens, short, ohms = self.siemens, self.short_siemens, self.lead_ohms
        amps = (volts * (siemens + short) - self.polarisation_volts * siemens) / (
            1.0 + ohms * (siemens + short)
        )
        if volts - amps * ohms > self.polarisation_volts:
            return amps
        return volts * short / (1.0 + ohms * short)

    def volts_at(self, amps: float) -> float:
        """The volts at the supply's terminals that drive so many amps; inf where none can."""
        siemens, short = self.siemens, self.short_siemens
        if amps <= self.polarisation_volts * short:
            return amps / short + amps * self.lead_ohms if short > 0.0 else 0.0
        if siemens + short <= 0.0:
            return math.inf
        over_bath = (amps + self.polarisation_volts * siemens) / (siemens + short)
        return over_bath + amps * self.lead_ohms

    def step(self, volts: float, amps: float, wander: float, contact: float) -> None:
        """Go one step on with these volts and amps at the terminals.

        `wander` is the slow noise on ln(conductance) and `contact` 0 to 1, both for the next step.
        """
        bath = self._bath
        over_bath = volts - amps * self.lead_ohms
        through_bath = max(self.siemens * (over_bath - self.polarisation_volts), 0.0)
        hours = self._dt_s / 3600.0
        self.amp_hours += through_bath * hours
        if self._part is not None and self.chromium_grams > 0.0:
            covered = 1.0 - self._bare
            gone = self._part.efficiency * covered * through_bath * self._dt_s * CHROMIUM_G_PER_C
            self.chromium_grams = max(self.chromium_grams - gone, 0.0)
        drying = bath.evaporation_ml_per_hour
        if drying > 0.0:
            drying *= math.exp(VAPOUR_PER_KELVIN * (self.celsius - 25.0))
            self.litres = max(self.litres - drying * hours / 1000.0, 0.05 * bath.litres)
        watts = (
            over_bath * amps
            - self._circuit.thermoneutral_volts * through_bath
            - bath.watts_per_kelvin * (self.celsius - bath.room_celsius)
            - WATTS_PER_ML_PER_HOUR * drying
        )
        self.celsius += watts * self._dt_s / (bath.joules_per_litre_kelvin * self.litres)
        self._reckon(wander, contact)

    def pour_in(self, litres: float) -> None:
        """Top up with distilled water at the room's temperature."""
        whole = self.litres + litres
        self.celsius += (self._bath.room_celsius - self.celsius) * litres / whole
        self.litres = whole

    def hang_new_part(self) -> None:
        """Take the part out and hang up another like it, with all its chromium."""
        if self._part is not None:
            self.chromium_grams = self._part.grams

    def _reckon(self, wander: float, contact: float) -> None:
        bath, circuit = self._bath, self._circuit
        self._bare = self._bare_share()
        self.polarisation_volts = (
            circuit.polarisation_volts + circuit.polarisation_rise_volts * self._bare
        )
        self.siemens = (
            circuit.siemens_at_25
            * max(1.0 + bath.alpha_per_kelvin * (self.celsius - 25.0), 0.05)
            * (bath.litres / self.litres) ** DRYING_EXPONENT
            * max(1.0 + circuit.loading_per_amp_hour * self.amp_hours, 0.05)
            * math.exp(wander)
            * contact
        )

    def _bare_share(self) -> float:
        part = self._part
        if part is None:
            return 0.0
        return max(1.0 - self.chromium_grams / (part.patchy * part.grams), 0.0)
