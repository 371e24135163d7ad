"""What a screen knows when it draws: the last picture of the run, and the time on its own clock."""

from dataclasses import dataclass

from drivers.reading import Mode
from monitor.alarms.alarm import AlarmEvent, Priority
from monitor.estimating.estimate import Forecast
from monitor.sample import Gap, Sample
from monitor.words import Situation, Standing, next_to_acknowledge, standing
from tui.glyphs import BRAILLE, Glyphs
from tui.ink import Line
from tui.view import View


@dataclass(frozen=True, slots=True)
class Moment:
    """Everything that one drawing of a screen depends on.

    Parameters
    ----------
    view
        The last picture; None before the first.
    now_s
        Run seconds by the screen's clock.
    local_time
        The wall clock as text; it ticks, so that a frozen screen shows.
    trouble
        Why the store cannot be read at present; "" while it can.
    said
        What the screen has to say in its last row; None for the keys.
    cursor_s
        Where the cursor of a review stands, run seconds; None on a live screen.
    """

    view: View | None
    now_s: float = 0.0
    local_time: str = ""
    glyphs: Glyphs = BRAILLE
    trouble: str = ""
    said: Line | None = None
    help_is_open: bool = False
    cursor_s: float | None = None

    @property
    def standing(self) -> Standing:
        """How the run stands by the screen's clock."""
        if self.view is None:
            reason = self.trouble or "waiting for the store"
            priority = Priority.CRITICAL if self.trouble else None
            return Standing("NO VIEW" if self.trouble else "OPENING", reason, "", priority, False)
        at = standing(situation(self.view, self.now_s))
        if self.trouble and at.word == "RECORDER STOPPED":
            todo = (
                "Go by the supply's own meters. The recorder may well go on; this screen is blind."
            )
            return Standing("NO VIEW", self.trouble, todo, Priority.CRITICAL, fresh=False)
        return at

    @property
    def waiting(self) -> AlarmEvent | None:
        """The alarm that the next press acknowledges."""
        return None if self.view is None else next_to_acknowledge(self.view.alarms)

    @property
    def sample(self) -> Sample | None:
        """The values to show as present; None where they are too old."""
        if self.view is None or not self.standing.fresh:
            return None
        return self.view.last_sample

    @property
    def forecast(self) -> Forecast | None:
        """The forecast, while values are fresh and there is a trip in sight."""
        view = self.view
        if view is None or view.estimate is None or self.sample is None:
            return None
        if self.sample.mode in (Mode.CUT_OUT, Mode.OUTPUT_OFF):
            return None
        forecast = view.estimate.forecast
        return None if forecast.trip_in_s is None else forecast

    @property
    def forecast_amps(self) -> float | None:
        """The amps that the forecast starts from: the envelope, else the last sample."""
        if self.forecast is None or self.view is None or self.view.estimate is None:
            return None
        expected = self.view.estimate.amps_expected
        return expected if expected is not None or self.sample is None else self.sample.amps


def silent_since_s(view: View) -> float | None:
    """Run seconds since when no poll was answered; None where none ever was."""
    if view.last_sample is not None:
        return view.last_sample.t_s
    open_gaps = [gap for gap in view.gaps if gap.ended_t_ns is None]
    return open_gaps[-1].began_t_ns / 1e9 if open_gaps and open_gaps[-1].began_seq > 0 else None


def situation(view: View, now_s: float) -> Situation:
    """What the words need to know of this picture at this time."""
    last = view.last
    since_s = silent_since_s(view)
    began_s = 0.0 if view.segment is None else view.segment.began_t_ns / 1e9
    return Situation(
        facts=view.row.facts,
        last=last,
        age_s=now_s - (began_s if last is None else last.t_s),
        silent_s=now_s - since_s if isinstance(last, Gap) and since_s is not None else None,
        estimate=view.estimate,
        alarms=view.alarms,
        ended=view.ended,
        ended_s=view.end_s,
        ended_why=view.row.ended_why,
    )
