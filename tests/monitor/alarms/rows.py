"""A sample as the conditions are asked about it, and conditions that stand alone."""

from drivers.reading import Mode
from monitor.alarms.conditions import Conditions
from monitor.analysis.conductance import HIGHEST_VOLTS, LOWEST_VOLTS
from monitor.analysis.holding import Holding
from monitor.model.estimate import Estimate
from monitor.model.finding import Finding
from monitor.model.fittings import NO_FITTINGS, Fittings
from monitor.model.run import LimitKind
from monitor.model.sample import Gap, Sample


def sample(t_s: float, volts: float, amps: float, mode: Mode = Mode.UNKNOWN) -> Sample:
    """At five polls a second, answered within a millisecond."""
    return Sample(round(t_s * 5), round(t_s * 1e9), 0, 1000, volts, amps, mode=mode)


class Alone:
    """Conditions with a holding of their own; in a run the chain of estimators has it."""

    def __init__(
        self,
        limit_amps: float,
        kind: LimitKind,
        no_data_after_s: float,
        fittings: Fittings = NO_FITTINGS,
    ) -> None:
        self.conditions = Conditions(limit_amps, kind, no_data_after_s, fittings)
        self.holding = Holding(limit_amps, kind is LimitKind.HOLDS)

    def judge(
        self, row: Sample | Gap, estimate: Estimate, stands: bool, is_off_awaited: bool = False
    ) -> tuple[Finding, ...]:
        """What they find at this row."""
        if isinstance(row, Sample) and row.volts is not None and row.amps is not None:
            if row.volts < 0.9:
                self.holding.restart()
            else:
                self.holding.update(row.t_s, row.volts, row.amps, row.mode)
        intercepts = (LOWEST_VOLTS, HIGHEST_VOLTS)
        return self.conditions.judge(
            row, estimate, stands, self.holding, intercepts, is_off_awaited
        )
