"""What a bath draws and what it should draw in; litres of distilled water, or what else, out.

First order: conductance goes with concentration to a power n a little under 1. n begins at what the
tables say and is corrected by what the bath's own earlier dilutions did.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.analysis.bath_heat import CAUSTIC_PER_KELVIN, at_25
from monitor.base.errors import WrongUse
from monitor.baths.charge_need import TENTH
from monitor.baths.conductivity import exponent

EXPONENT_SD = 0.1
"""How far a bath's exponent may lie from its table's: carbonate and age bend it (common practice,
no source)."""
SEEN_SD = 0.02
"""Error of ln(amps after / amps before) of one dilution: start temperatures and the work differ."""
FLOOR_GRAMS_PER_LITRE = {"caustic": 40.0, "carbonate": 50.0}
"""Working-strength floors: three quarters of the weakest published strips, 52 g/L NaOH and 67 g/L
Na2CO3 (Products Finishing); our choice, the settings may say another."""
SLEEVE = (
    "Flush the sleeve with distilled water and let it drain, or it brings the old solution back."
)


class Remedy(StrEnum):
    """What to do about a bath that draws too much."""

    NOTHING = "nothing"
    COOL = "let it cool"
    DILUTE = "dilute"
    REPLACE = "replace"


@dataclass(frozen=True, slots=True)
class Exponent:
    """n in conductance ~ concentration^n, with its standard deviation and whose it is."""

    n: float
    sd: float
    dilutions: int


def learned_exponent(seen: Sequence[tuple[float, float]], solution: str = "caustic") -> Exponent:
    """The exponent after a bath's own dilutions.

    Parameters
    ----------
    seen
        Of each the ratio of concentrations (after over before, under 1) and that of conductances
        at one temperature.

    Examples
    --------
    >>> learned_exponent([]).dilutions
    0
    >>> after = learned_exponent([(0.8, 0.8 ** 0.95)])
    >>> after.n > learned_exponent([]).n
    True
    """
    n, variance, used = exponent(solution or "caustic"), EXPONENT_SD**2, 0
    for strengths, conductances in seen:
        if not 0.0 < strengths < 0.99 or not 0.0 < conductances < 1.2:
            continue
        found = math.log(conductances) / math.log(strengths)
        noise = (SEEN_SD / math.log(strengths)) ** 2
        gain = variance / (variance + noise)
        n += gain * (found - n)
        variance *= 1.0 - gain
        used += 1
    return Exponent(min(max(n, 0.3), 1.3), math.sqrt(variance), used)


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do, with amounts.

    Parameters
    ----------
    remedy, why
        And the reasons in words.
    water_litres, low_litres, high_litres
        Distilled water, and the range that the exponent's uncertainty leaves.
    drawn_litres
        To take out first, where the tank has no room.
    grams_per_litre
        Strength afterwards; None where the ledger has none.
    amps_cool
        What it would draw at the usual temperature without any water.
    """

    remedy: Remedy
    why: str
    water_litres: float = 0.0
    low_litres: float = 0.0
    high_litres: float = 0.0
    drawn_litres: float = 0.0
    grams_per_litre: float | None = None
    amps_cool: float | None = None


@dataclass(frozen=True, slots=True)
class Draw:
    """What a bath draws at the usual volts.

    Parameters
    ----------
    amps, volts, polarisation_volts
        Now.
    celsius, usual_celsius
        Now, and at the start of a usual job; None where not known.
    lead_ohms
        Of leads and contacts, which water does not change.
    """

    amps: float
    volts: float
    polarisation_volts: float
    celsius: float | None = None
    usual_celsius: float = 25.0
    lead_ohms: float = 0.0

    def siemens(self, amps: float) -> float:
        """Of the bath alone, where so many amps flow."""
        ohms = (self.volts - self.polarisation_volts) / amps - self.lead_ohms
        if ohms <= 0.0:
            raise WrongUse(
                f"{amps:g} A at {self.volts:g} V leaves the bath no resistance; check volts, amps "
                "and leads"
            )
        return 1.0 / ohms

    def amps_at(self, siemens: float) -> float:
        """The amps that a bath of this conductance takes."""
        return (self.volts - self.polarisation_volts) / (1.0 / siemens + self.lead_ohms)


def advice(
    draw: Draw,
    amps_aimed: float,
    litres: float,
    exponent: Exponent,
    *,
    per_kelvin: float = CAUSTIC_PER_KELVIN,
    holds_litres: float | None = None,
    grams_per_litre: float | None = None,
    floor_grams_per_litre: float = FLOOR_GRAMS_PER_LITRE["caustic"],
) -> Advice:
    """What takes the amps down to the aim at the same volts.

    Examples
    --------
    >>> draw = Draw(9.0, 6.0, 1.8, 25.0)
    >>> told = advice(draw, 7.5, 9.0, learned_exponent([]), holds_litres=12.0)
    >>> told.remedy.value, round(told.water_litres, 2)
    ('dilute', 2.11)
    >>> advice(Draw(9.0, 6.0, 1.8, 38.0), 7.5, 9.0, learned_exponent([])).remedy.value
    'let it cool'

    Raises
    ------
    WrongUse
        Amps, volts or litres that cannot be.
    """
    if litres <= 0.0 or draw.amps <= 0.0 or amps_aimed <= 0.0:
        raise WrongUse("litres, amps and the amps aimed at must each be over 0")
    siemens, aimed = draw.siemens(draw.amps), draw.siemens(amps_aimed)
    cool = siemens
    if draw.celsius is not None and draw.celsius > draw.usual_celsius:
        usual = 1.0 + per_kelvin * (draw.usual_celsius - 25.0)
        cool = (at_25(siemens, draw.celsius, per_kelvin) or siemens) * usual
    amps_cool = draw.amps_at(cool)
    if siemens <= aimed:
        return Advice(Remedy.NOTHING, "It draws no more than it should.", amps_cool=amps_cool)
    if cool <= aimed:
        return Advice(
            Remedy.COOL,
            f"Warming explains it: at {draw.usual_celsius:.0f} C it would draw {amps_cool:.1f} A. "
            "Let it cool; add no water.",
            amps_cool=amps_cool,
        )
    thinner = (aimed / cool) ** (1.0 / exponent.n)
    ends = sorted(
        litres * ((cool / aimed) ** (1.0 / max(n, 0.2)) - 1.0)
        for n in (exponent.n - TENTH * exponent.sd, exponent.n + TENTH * exponent.sd)
    )
    water, drawn = litres * (1.0 / thinner - 1.0), 0.0
    if holds_litres is not None and litres + water > holds_litres:
        drawn = max(litres - holds_litres * thinner, 0.0)
        water = holds_litres * (1.0 - thinner)
        share = water / (litres * (1.0 / thinner - 1.0))
        ends = [end * share for end in ends]
    after = None if grams_per_litre is None else grams_per_litre * thinner
    if after is not None and after < floor_grams_per_litre:
        return Advice(
            Remedy.REPLACE,
            f"Water would bring it down to {after:.0f} g/L, under the working strength of "
            f"{floor_grams_per_litre:.0f} g/L: it would strip slowly or not at all.",
            grams_per_litre=after,
            amps_cool=amps_cool,
        )
    why = f"The solution itself conducts {cool / aimed - 1.0:.0%} more than it should."
    if draw.celsius is not None and draw.celsius > draw.usual_celsius + 5.0:
        why += " It is warm: let it cool before you measure and pour."
    if drawn > 0.0:
        why += f" The tank has no room: draw {drawn:.2g} L off first; that is hazardous waste."
    return Advice(Remedy.DILUTE, why, water, ends[0], ends[1], drawn, after, amps_cool)


def promise_error(amps_promised: float, amps_found: float) -> float:
    """By what share the amps after a dilution missed the promise; positive is too much current.

    >>> round(promise_error(7.5, 7.8), 3)
    0.04
    """
    return amps_found / amps_promised - 1.0
