"""How far the strip is, with its bounds, in words."""

from monitor.model.charge_need import ChargeNeed
from monitor.model.estimate import Charge
from monitor.text.numbers import amp_hours_text, percent

LEAST_AMPS = 0.05
"""Less than this gives no time to the finish."""


def progress_line(need: ChargeNeed, charge: Charge, amps: float | None) -> str:
    """How far the strip is, and the time to its likely finish at these amps.

    Faraday's charge is told as a guide: it holds for the stated thickness and for Cr(VI).

    Parameters
    ----------
    amps
        That flow now; None where they are not known, or none flow.

    Examples
    --------
    >>> need = ChargeNeed(0.107, 0.55, 0.49, 0.62)
    >>> progress_line(need, Charge(0.2), 5.0)
    '36 % of likely 0.55 Ah (0.49 to 0.62, Faraday 0.11); 4.2 min left (3.5 to 5)'
    >>> progress_line(ChargeNeed(0.107), Charge(0.2), 5.0)
    "0.20 Ah; Faraday's guide: 0.11 Ah; what this bath needs is not known yet"
    """
    least = amp_hours_text(need.least)
    share = need.progress(charge.amp_hours)
    if share is None or need.likely is None or need.low is None or need.high is None:
        passed = amp_hours_text(need.passed(charge.amp_hours))
        return f"{passed}; Faraday's guide: {least}; what this bath needs is not known yet"
    likely, low, high = (
        amp_hours_text(amp_hours).removesuffix(" Ah")
        for amp_hours in (need.likely, need.low, need.high)
    )
    bounds = f"({low} to {high}, Faraday {least.removesuffix(' Ah')})"
    line = f"{percent(share)} of likely {likely} Ah {bounds}"
    left = need.seconds_left(charge.amp_hours, amps) if amps and amps > LEAST_AMPS else None
    if left is None:
        return line
    middle_s, early_s, late_s = left
    if late_s <= 0.0:
        return f"{line}: longer than any similar job: check it"
    if middle_s <= 0.0:
        return f"{line}: check whether it is done; {_minutes(late_s)} min at the latest"
    span = f"{_minutes(early_s)} to {_minutes(late_s)}"
    return f"{line}; {_minutes(middle_s)} min left ({span})"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.2g}" if seconds < 600.0 else f"{seconds / 60.0:.0f}"
