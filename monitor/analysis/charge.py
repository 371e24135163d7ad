"""The charge passed in ampere-hours, with its coverage and an upper bound."""

from monitor.model.estimate import Charge
from monitor.model.faraday import COULOMB_PER_AMP_HOUR
from monitor.model.sample import longest_step_s


class ChargePassed:
    """Ampere-hours by the trapezoid over answered polls.

    A stretch counts as answered only if the polls at both of its ends gave amps and follow each
    other. Anything else adds nothing to the total and lowers the coverage; the upper bound lets
    the highest amps seen so far flow through it.

    Parameters
    ----------
    poll_s
        Seconds between polls.

    Examples
    --------
    10 A for an hour, polled once a minute, is 10 Ah (ampere-hour by definition):

    >>> passed = ChargePassed(poll_s=60.0)
    >>> for minute in range(61):
    ...     passed.update(minute * 60.0, 10.0)
    >>> passed.charge.amp_hours, passed.charge.coverage
    (10.0, 1.0)

    References
    ----------
    Trapezoidal rule, e.g. Abramowitz & Stegun, 25.4.1.
    """

    __slots__ = (
        "_answered_s",
        "_before_s",
        "_began_s",
        "_coulomb",
        "_highest_amps",
        "_last_amps",
        "_last_s",
        "_longest_step_s",
    )

    def __init__(self, poll_s: float) -> None:
        self._longest_step_s = longest_step_s(poll_s)
        self._coulomb = 0.0
        self._answered_s = 0.0
        self._highest_amps = 0.0
        self._began_s: float | None = None
        self._last_s = 0.0
        self._last_amps: float | None = None
        self._before_s = 0.0

    def begin_with(self, charge: Charge, seconds: float) -> None:
        """Go on from a charge that had passed after so many seconds, before the first update.

        >>> passed = ChargePassed(poll_s=1.0)
        >>> passed.begin_with(Charge(2.0, 2.0, 2.5, 0.9), seconds=3600.0)
        >>> passed.update(0.0, 4.0)
        >>> passed.update(9.0 / 4.0, 4.0)
        >>> [round(value, 4) for value in (passed.amp_hours, passed.charge.amp_hours_high)]
        [2.0025, 2.5025]
        """
        self._coulomb = charge.amp_hours * COULOMB_PER_AMP_HOUR
        self._answered_s = charge.coverage * seconds
        self._before_s = seconds
        unknown_s = seconds - self._answered_s
        if unknown_s > 0.0:
            more = charge.amp_hours_high - charge.amp_hours
            self._highest_amps = more * COULOMB_PER_AMP_HOUR / unknown_s

    def update(self, t_s: float, amps: float | None) -> None:
        """Take one due poll: its time and its amps, or None where it gave none to reckon with."""
        if self._began_s is None:
            self._began_s, self._last_s = t_s - self._before_s, t_s
        step_s = t_s - self._last_s
        if step_s < 0.0:
            return
        if amps is not None:
            if amps > self._highest_amps:
                self._highest_amps = amps
            if self._last_amps is not None and step_s <= self._longest_step_s:
                self._coulomb += 0.5 * (amps + self._last_amps) * step_s
                self._answered_s += step_s
        self._last_s = t_s
        self._last_amps = amps

    @property
    def amp_hours(self) -> float:
        """The charge so far, without its bounds."""
        return self._coulomb / COULOMB_PER_AMP_HOUR

    @property
    def charge(self) -> Charge:
        """The charge so far."""
        if self._began_s is None:
            return Charge()
        amp_hours = self._coulomb / COULOMB_PER_AMP_HOUR
        elapsed_s = self._last_s - self._began_s
        unknown_s = elapsed_s - self._answered_s
        if unknown_s <= 1e-9:
            return Charge(amp_hours, amp_hours, amp_hours, 1.0)
        most = amp_hours + self._highest_amps * unknown_s / COULOMB_PER_AMP_HOUR
        return Charge(amp_hours, amp_hours, most, self._answered_s / elapsed_s)
