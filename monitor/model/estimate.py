"""What one sample means: the forecast, the charge, the state of the bath. Values only."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class NoForecast(StrEnum):
    """Why there is no forecast; the store and the exports hold these words."""

    NOT_ENOUGH_DATA = "not enough data"
    AS_EXPECTED = "amps as expected, not enough data"
    NO_RISE = "no rise"
    GAP = "gap"
    VOLTS_CHANGED = "volts were changed"
    OUTPUT_OFF = "output is off"
    CURRENT_HELD = "supply is holding the current"
    LOOKS_FINISHED = "strip looks finished"
    LIMIT_WRONG = "limit in the settings is wrong"
    PROGRAM_FAILED = "program failed"


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the supply is expected to come to its limit.

    Parameters
    ----------
    trip_in_s, trip_in_low_s, trip_in_high_s
        Seconds from now: the median, the 10 % and the 90 % point. All None where no trip is in
        sight; `trip_in_high_s` alone is None where the 90 % point lies beyond any horizon.
    chance_within_horizon
        Probability, 0 to 1, that the limit is crossed within the horizon; None without a forecast.
    why
        Why there is no forecast; None with one.
    """

    trip_in_s: float | None = None
    trip_in_low_s: float | None = None
    trip_in_high_s: float | None = None
    chance_within_horizon: float | None = None
    why: NoForecast | None = None


class Charge(NamedTuple):
    """Charge passed since the run began.

    A tuple, since one is made with each sample and frozen dataclasses take longer.

    Parameters
    ----------
    amp_hours
        By the trapezoid over answered polls; gaps add nothing.
    amp_hours_low, amp_hours_high
        Bounds: gaps at nothing, and gaps at the highest amps seen so far.
    coverage
        Answered share of the run's time, 0 to 1.
    """

    amp_hours: float = 0.0
    amp_hours_low: float = 0.0
    amp_hours_high: float = 0.0
    coverage: float = 1.0


@dataclass(frozen=True, slots=True)
class Heat:
    """How warm the named conductors and the bath are; None for what is not watched or known.

    Parameters
    ----------
    hottest, share, in_s
        The conductor that is first at the heat it stands, its thermal image (1 is the limit), and
        the seconds until then at the present amps; None where it never comes to that.
    bath_in_s
        Seconds until the bath is at its highest temperature.
    amps_per_dm2
        Current density on the part.
    """

    hottest: str | None = None
    share: float | None = None
    in_s: float | None = None
    bath_in_s: float | None = None
    amps_per_dm2: float | None = None


NOT_WATCHED = Heat()


class Estimate(NamedTuple):
    """Everything that the estimators say after one sample or gap; a tuple, as `Charge` is.

    Parameters
    ----------
    t_ns, seq
        Of the sample or gap that it follows.
    siemens
        Smoothed conductance of the bath, I / (V - E0); None while unknown.
    siemens_at_start
        The same shortly after the run's start, to compare with.
    siemens_per_minute
        Its slope; None while unknown.
    amps_expected
        The amps that the upper envelope stands at now, at the present volts.
    warming_share
        Of the rise since the start, the part that warming explains, 0 to 1; None while unknown.
    celsius
        Measured, or estimated from the heat balance; None while unknown.
    in_contact
        False while a swab is off the work (amps far under the envelope).
    siemens_at_25
        The conductance referred to 25 C at the bath's own coefficient; None without a temperature.
    warming_rise
        The rise since the start that warming alone would have made, as `rise_since_start`.
    heat
        Of the named conductors, the bath and the part.
    extra_ohms
        What a connection took at once, since the output was switched on; None for none.
    polarisation_volts
        What the electrodes take of the volts, as far as it was learned.
    """

    seq: int
    t_ns: int
    forecast: Forecast
    charge: Charge
    siemens: float | None = None
    siemens_at_start: float | None = None
    siemens_per_minute: float | None = None
    amps_expected: float | None = None
    warming_share: float | None = None
    celsius: float | None = None
    in_contact: bool = True
    siemens_at_25: float | None = None
    warming_rise: float | None = None
    heat: Heat = NOT_WATCHED
    extra_ohms: float | None = None
    polarisation_volts: float | None = None

    @property
    def t_s(self) -> float:
        """Seconds since the run began."""
        return self.t_ns / 1e9

    @property
    def rise_since_start(self) -> float | None:
        """Conductance now over conductance at the start, less one; None while unknown."""
        if self.siemens is None or self.siemens_at_start is None:
            return None
        return self.siemens / self.siemens_at_start - 1.0

    @property
    def other_rise(self) -> float | None:
        """What the rise since the start holds beside warming; negative where it took some back."""
        rise, warming = self.rise_since_start, self.warming_rise
        if rise is None or warming is None:
            return None
        return (1.0 + rise) / (1.0 + warming) - 1.0

    @property
    def series_ohms(self) -> float | None:
        """Bath, leads and contacts in series: (V - E0) / I."""
        return None if self.siemens is None else 1.0 / self.siemens
