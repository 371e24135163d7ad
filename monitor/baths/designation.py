"""The designation of a coating: its layers, and the thickness of its chromium in micrometres.

The short form of ISO 1456 and ASTM B456: base metal, nickel with its thickness and type, chromium
with its type, such as `Fe/Ni35d Cr mp`.
"""

import re
from dataclasses import dataclass

from monitor.base.errors import WrongUse

USUAL_MICROMETRES = 0.3
"""Chromium whose thickness the designation leaves out (ISO 1456 and ASTM B456, quoted by the Metal
Finishing guidebook 2011-12)."""

NICKEL = {"b": "bright", "d": "double-layer", "p": "polished", "s": "satin or semi-bright"}
CHROMIUM = {"r": "regular", "mp": "microporous", "mc": "microcracked"}
SERVICE_MICROMETRES = {"sc 1": 0.13, "sc 2": 0.25, "sc 3": 0.25, "sc 4": 0.25, "sc 5": 0.25}
"""Least chromium of a service condition (ASTM B456-03: 0.25 um, and 0.13 um allowed for SC 1)."""

_WRITTEN = re.compile(
    r"(?:(?P<base>[A-Z][a-zA-Z]?)\s*/\s*)?"
    r"(?:Cu\s*(?P<copper>[0-9.]+)\s*[a-z]*\s*/?\s*)?"
    r"(?:Ni\s*(?P<nickel>[0-9.]+)\s*(?P<nickel_type>[bdps])\s*/?\s*)?"
    r"Cr\s*(?P<first>[0-9]+(?:\.[0-9]+)?)?\s*(?P<type>r|mp|mc)?\s*(?P<last>[0-9]+(?:\.[0-9]+)?)?"
)


@dataclass(frozen=True, slots=True)
class Designation:
    """The layers of a decorative coating; "" and None for what is not named.

    Parameters
    ----------
    base
        Chemical symbol of the metal below, such as "Fe".
    copper_um, nickel_um
        Least thickness of each, micrometres.
    nickel_type, chromium_type
        In words.
    chromium_um
        Thickness of the chromium, micrometres.
    """

    base: str
    copper_um: float | None
    nickel_um: float | None
    nickel_type: str
    chromium_um: float
    chromium_type: str


def parse_designation(text: str) -> Designation:
    """Read a designation.

    Examples
    --------
    >>> parse_designation("Fe/Ni35d Cr mp").chromium_um
    0.3
    >>> parse_designation("Cr mc 0.8").chromium_type
    'microcracked'

    Raises
    ------
    WrongUse
        One line with an example of what is right.
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None or (match["first"] and match["last"]):
        raise WrongUse(
            f"{text!r} is not a coating's designation; write one like 'Fe/Ni35d Cr mp' or 'Cr r'"
        )
    micrometres = match["first"] or match["last"]
    chromium_um = USUAL_MICROMETRES if micrometres is None else float(micrometres)
    if not 0.0 < chromium_um <= 200.0:
        raise WrongUse(f"{text!r}: chromium of {chromium_um:g} um; give over 0 and up to 200")
    return Designation(
        base=match["base"] or "",
        copper_um=None if match["copper"] is None else float(match["copper"]),
        nickel_um=None if match["nickel"] is None else float(match["nickel"]),
        nickel_type=NICKEL.get(match["nickel_type"] or "", ""),
        chromium_um=chromium_um,
        chromium_type=CHROMIUM.get(match["type"] or "", ""),
    )


_THICK = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(um|\u00b5m|\u03bcm|nm|mm|mil|uin)", re.IGNORECASE)
_MICROMETRES_IN = {
    "um": 1.0,
    "\u00b5m": 1.0,
    "\u03bcm": 1.0,
    "nm": 1e-3,
    "mm": 1e3,
    "mil": 25.4,
    "uin": 0.0254,
}


def micrometres_of(text: str) -> float:
    """Thickness of the chromium: a number with its unit, a service condition or a designation.

    Examples
    --------
    >>> micrometres_of("0.5 um"), micrometres_of("Cr mp"), micrometres_of("SC 1")
    (0.5, 0.3, 0.13)

    Raises
    ------
    WrongUse
        One line; also for a number without its unit.
    """
    plain = " ".join(text.split())
    service = re.sub(r"^sc ?", "sc ", plain.lower())
    if service in SERVICE_MICROMETRES:
        return SERVICE_MICROMETRES[service]
    match = _THICK.fullmatch(plain)
    if match is not None:
        thick = float(match[1].replace(",", ".")) * _MICROMETRES_IN[match[2].lower()]
        if not 0.0 < thick <= 200.0:
            raise WrongUse(f"{text!r}: chromium is over 0 and up to 200 um thick; check the unit")
        return thick
    if re.match(r"[0-9]", plain):
        raise WrongUse(f"{text!r}: name the unit of the thickness, such as '0.3 um' or '12 uin'")
    return parse_designation(plain).chromium_um
