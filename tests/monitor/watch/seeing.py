"""Made-up rows for the watchers of a run."""

from monitor.model.estimate import Charge, Estimate, Forecast
from monitor.model.sample import Gap
from monitor.watch.seen import Seen
from monitor.watch.strip_steps import Step
from tests.monitor.analysis.traces import sample

NOTHING = Estimate(0, 0, Forecast(), Charge(), polarisation_volts=2.0)


def seen(
    t_s: float,
    amps: float | None,
    volts: float = 7.0,
    *,
    off: bool = False,
    lost: bool = False,
    swab: bool = False,
    step: Step = Step.STRIPPING,
) -> Seen:
    """One row of a supply of 10 A; None amps for a poll without an answer."""
    seq = round(t_s)
    if amps is None:
        row, flows = Gap(seq, round(t_s * 1e9), 0, "no answer"), False
        return Seen(row, t_s, None, None, flows, off, lost, swab, step, NOTHING)
    flows = amps >= 0.2
    row_at = sample(seq, t_s, volts, amps)
    return Seen(row_at, t_s, volts, amps, flows, off, lost, swab, step, NOTHING)
