"""A run of the corpus in, what bathvigil itself says of it out: the recorder's own `Vigil`."""

from benchmarks.forecast_runs import Run
from monitor.alarms.alarm import Change
from monitor.alarms.catalogue import TRIP_EXPECTED
from monitor.estimating.score.run_score import RunScore, Scoring
from monitor.vigil import Vigil


def judge(run: Run) -> RunScore:
    """What the forecast and its alarm score in one run."""
    vigil = Vigil(run.facts)
    scoring = Scoring(run.trip_s)
    stands = False
    for _, row in run.before_the_trip():
        verdict = vigil.update(row)
        for event in verdict.events:
            if event.alarm == TRIP_EXPECTED and event.change is Change.RAISED:
                stands = True
            elif event.alarm == TRIP_EXPECTED and event.change is Change.RETURNED:
                stands = False
        told = verdict.estimate.forecast
        scoring.take(row.t_s, stands, told.trip_in_s, told.trip_in_low_s, told.trip_in_high_s)
    return scoring.end(run.seconds)
