"""A step of the job as the shop defines it: its name, and the windows that it is done in."""

from dataclasses import dataclass, replace

from monitor.model.card import Way

STRIP = "strip"
"""The step that every bench has."""

TANK_VOLTS = (2.5, 12.0)
"""Default window in a tank. Published: 6 V (Products Finishing, "Stripping nickel chrome"), 4 to
6 V (NMFRC, questions and answers, March 2007); the rest is common practice, no source."""
SWAB_VOLTS = (6.0, 12.0)
"""Default window with a swab: common practice, no source."""

HOLD_S = 20.0
"""How long to keep the current on once the chromium seems gone: 15 to 30 s, more if in doubt
(common practice, no source)."""

FINISH_FOR_S = 180.0
"""A strip that looks finished, and that nobody confirms within so long, goes on as a strip."""

Window = tuple[float, float]
"""Lowest and highest; a lowest of 0 leaves that side open."""


@dataclass(frozen=True, slots=True)
class JobStep:
    """One step; None for a window that is not set.

    Parameters
    ----------
    name
        As it stands on the job card, such as "strip".
    volts
        At the supply.
    amps_per_dm2
        Current density on the work.
    minutes
        With current flowing.
    celsius
        Of the bath.
    has_default_volts
        Whether the volts are the program's own; with a swab they are then those of a swab.

    Examples
    --------
    >>> JobStep("strip", (6.0, 12.0), (0.0, 8.0), (1.0, 20.0)).line
    'strip: 6 to 12 V, up to 8 A/dm2, 1 to 20 min'
    >>> JobStep("rinse").line
    'rinse: no windows'
    """

    name: str
    volts: Window | None = None
    amps_per_dm2: Window | None = None
    minutes: Window | None = None
    celsius: Window | None = None
    has_default_volts: bool = False

    def done_with(self, way: Way | None) -> "JobStep":
        """The same step in a tank or with a swab; a shop's own volts stay.

        >>> USUAL_STEPS[-1].done_with(Way.SWAB).line
        'strip: 6 to 12 V (default for a swab)'
        """
        if not self.has_default_volts:
            return self
        return replace(self, volts=SWAB_VOLTS if way is Way.SWAB else TANK_VOLTS)

    @property
    def line(self) -> str:
        """The step and its windows in one line."""
        default = ""
        if self.has_default_volts:
            default = f" (default for a {'swab' if self.volts == SWAB_VOLTS else 'tank'})"
        windows = [
            window_text(window, unit)
            for window, unit in (
                (self.volts, f"V{default}"),
                (self.amps_per_dm2, "A/dm2"),
                (self.minutes, "min"),
                (self.celsius, "C"),
            )
            if window is not None
        ]
        return f"{self.name}: {', '.join(windows) or 'no windows'}"


def window_text(window: Window, unit: str) -> str:
    """A window in words.

    >>> window_text((6.0, 12.0), "V"), window_text((0.0, 8.0), "A/dm2")
    ('6 to 12 V', 'up to 8 A/dm2')
    """
    low, high = window
    return f"{low:g} to {high:g} {unit}" if low > 0.0 else f"up to {high:g} {unit}"


USUAL_STEPS = (JobStep("clean"), JobStep(STRIP, TANK_VOLTS, has_default_volts=True))
"""Where the shop defines none."""
