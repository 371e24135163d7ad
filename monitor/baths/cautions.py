"""The usual cautions, short, each with its source and year; said where they matter and once."""

DEFER = (
    "Defer to local codes, the authority having jurisdiction, the chemical's SDS and licensed or "
    "qualified practice."
)
HEXAVALENT = (
    "Anodic stripping makes hexavalent chromium. Limits in air over 8 h: OSHA 5 ug/m3, action "
    "level 2.5 (29 CFR 1910.1026, 2006); NIOSH 0.2 ug/m3 (2013); ACGIH 0.2 ug/m3 (2018)."
)
CAUSTIC = (
    "The bath is caustic. NaOH in air: OSHA 2 mg/m3 over 8 h, NIOSH and ACGIH 2 mg/m3 at no time "
    "exceeded, IDLH 10 mg/m3. Wear gloves and eye protection."
)
GAS = (
    "Mist, hydrogen and oxygen leave the bath together; hydrogen burns from 4 to 75 % in air "
    "(NFPA, as quoted). Exhaust them; no flames, no sparks."
)
ACID = "Never mix the strip with acid."
WASTE = (
    "Spent strip is very likely hazardous waste: chromium from 5.0 mg/L on is D007 (40 CFR "
    "261.24), pH from 12.5 on is D002 (40 CFR 261.22). Ask your regulator before it leaves."
)
WETTING = (
    "Water-break test (ASTM F22): lift the rinsed surface upright out of overflowing water; the "
    "film must not break within one minute. It shows that the part is clean, not that all "
    "chromium is gone: look for its colour too."
)
RINSE = (
    "Rinse in water, over a basin that is collected; rinse well before any acid step, and never "
    "dip straight from the strip into acid."
)
NICKEL = (
    "Stripping in caustic leaves nickel passive and may leave smut (Products Finishing): activate "
    "it before you plate again."
)
MAKE_UP = (
    "Add caustic to cold water a little at a time, never water to dry caustic: it boils and spits."
)
POUR = (
    "Output OFF. Pour only into a cool bath, under 38 C (100 F; Metal Finishing Guidebook 2011-12, "
    "p. 73). Extraction on, gloves and goggles: pour slowly and stir. What is drawn off is waste "
    "like the rest."
)
HOLD = "After the chromium seems gone hold on 15 to 30 s, more if in doubt (common practice)."
NOT_AN_INTERLOCK = "These are estimates from two meters. The program advises; it is no interlock."

OF_A_FIRST_START = (HEXAVALENT, CAUSTIC, GAS, NOT_AN_INTERLOCK, DEFER)
OF_A_FINISH = (HOLD, WETTING, RINSE, NICKEL)
OF_A_MAKE_UP = (MAKE_UP, CAUSTIC, DEFER)
OF_A_DILUTION = (POUR, ACID, DEFER)
OF_AN_ADDITION = (POUR, MAKE_UP, CAUSTIC, DEFER)
OF_A_REPLACEMENT = (MAKE_UP, ACID, WASTE, DEFER)
OF_A_RUN = (HEXAVALENT, CAUSTIC, GAS, ACID, WASTE, NOT_AN_INTERLOCK, DEFER)
OF_A_BATH = (CAUSTIC, GAS, ACID, WASTE, DEFER)
"""What is said where; each place says its own and no more."""
