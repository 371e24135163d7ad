"""A strip as it is likely to run, reckoned before the current flows."""

from enum import StrEnum
from typing import NamedTuple


class Basis(StrEnum):
    """From what the amps are reckoned."""

    LIKE_JOBS_AT_25 = "like jobs with a temperature"
    LIKE_JOBS = "like jobs"
    DENSITY = "the step's current density"


class Unknown(StrEnum):
    """What is not known, and would make the plan better."""

    AMPS = "amps"
    AREA = "area"
    CHROMIUM = "chromium"
    EFFICIENCY = "efficiency"
    CELSIUS = "celsius"
    LITRES = "litres"
    EARLIER_RUNS = "earlier runs"
    WARMTH = "warmth"


class Range(NamedTuple):
    """The likely value, and its 10 % and 90 % points."""

    low: float
    middle: float
    high: float


class Outlook(NamedTuple):
    """What to expect at some volts; None for what is not known.

    Parameters
    ----------
    volts
        That stand from switching on to the end.
    amps, end_amps
        Shortly after switching on; at the end, if the supply lets them.
    seconds
        With current, until the chromium is likely gone.
    watched_s
        For how long the plan looks: to the end, else for a first stretch.
    warming
        Kelvin, from switching on to then.
    chance_of_trip
        That the amps reach the limit by then; 0 to 1.
    trip_in_s
        When, where that is likelier than not.
    """

    volts: float
    amps: Range
    end_amps: float
    seconds: Range | None
    watched_s: float
    warming: float
    chance_of_trip: float
    trip_in_s: float | None


class StripPlan(NamedTuple):
    """What is known of a strip before it begins.

    Parameters
    ----------
    limit_amps, holds
        Of the supply; whether it holds its current there instead of cutting out.
    charge, least_charge
        Ampere-hours: likely, by the bath's finished runs; the least, by Faraday's law.
    basis
        Of the amps; None where nothing is known of them.
    asked
        What to expect at the volts that were asked for.
    chosen
        At the volts to choose; None where they are those that were asked for, or where no volts
        in the window will do.
    pause_s
        To let the bath cool before, where only that helps; 0 for none.
    will_do
        Whether the volts to choose, after the pause, are likely to last to the end.
    most_amps
        What the part stands by its current density; None where not known.
    celsius
        Of the bath before; None where nobody measured it.
    unknown
        What would make the plan better.
    is_too_low
        Whether the volts asked for drive hardly any current through the cell.
    """

    limit_amps: float
    holds: bool
    charge: Range | None
    least_charge: float | None
    basis: Basis | None
    asked: Outlook | None
    chosen: Outlook | None
    pause_s: float
    will_do: bool
    most_amps: float | None
    celsius: float | None
    unknown: tuple[Unknown, ...]
    is_too_low: bool = False
