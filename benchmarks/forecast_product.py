"""What bathvigil itself forecasts of a run of the corpus: the recorder's own `Vigil`."""

from benchmarks.forecast_runs import Run
from benchmarks.score.run_score import RunScore, Scoring
from monitor.model.alarm import AlarmName, Change
from monitor.model.sample import Sample
from monitor.watch.vigil import Vigil


def judge(run: Run) -> RunScore:
    """What the forecast and its alarm score in one run."""
    vigil = Vigil(run.facts)
    scoring = Scoring(run.trip_s)
    stands = False
    for _, row in run.before_the_trip():
        verdict = vigil.update(row)
        for event in verdict.events:
            if event.alarm == AlarmName.TRIP_EXPECTED and event.change is Change.RAISED:
                stands = True
            elif event.alarm == AlarmName.TRIP_EXPECTED and event.change is Change.RETURNED:
                stands = False
        forecast = verdict.estimate.forecast
        scoring.take(
            row.t_s, stands, forecast.trip_in_s, forecast.trip_in_low_s, forecast.trip_in_high_s
        )
    return scoring.end(run.seconds)


def samples_to_short(run: Run) -> int | None:
    """Samples from the first that shows the short to the alarm `short`, both counted.

    None where the supply had cut out before any sample saw the short; 99 where it was never said.
    """
    vigil = Vigil(run.facts)
    began_s = max(event.at_s or 0.0 for event in run.drawn.scene.events)
    least_amps = 0.05 * run.facts.limit_amps
    seen = 0
    for row in run.rows:
        verdict = vigil.update(row)
        shows = row.t_s > began_s and isinstance(row, Sample) and (row.amps or 0.0) > least_amps
        if shows or seen:
            seen += 1
        if any(e.alarm == AlarmName.SHORT and e.change is Change.RAISED for e in verdict.events):
            return seen
    return 99 if seen else None
