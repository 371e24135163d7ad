"""What a screen knows when it draws: the last picture of the run, and the time on its own clock."""

from dataclasses import dataclass

from drivers.reading import Mode
from monitor.model.alarm import RANK, AlarmEvent, Priority
from monitor.model.estimate import Forecast
from monitor.model.event import Prompt, PromptName, standing_prompt
from monitor.model.request import RequestKind
from monitor.model.sample import Sample
from monitor.model.step import FINISH_FOR_S
from monitor.text.badges import badges
from monitor.text.hold import HOLD_TO_DO, hold_left_s, hold_sentence
from monitor.text.prompts import prompt_text
from monitor.text.situation import silent_since_s, situation_at
from monitor.text.standing import (
    NO_VIEW_TO_DO,
    WAITING_FOR_STORE,
    Situation,
    Standing,
    StateWord,
    next_to_acknowledge,
    stale_after_s,
    standing,
)
from tui.glyphs import BRAILLE, Glyphs
from tui.ink import Line
from tui.view import View

PROMPT_FOR_S = 600.0
STANDS_FOR_S: dict[str, float] = {PromptName.LOOKS_FINISHED: FINISH_FOR_S}
"""How long a prompt stands there, run seconds; and those that expire sooner."""


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
    story_is_open
        Whether a review tells of the stop or alarm at the cursor instead of its list.
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
    story_is_open: bool = False
    cursor_s: float | None = None

    @property
    def standing(self) -> Standing:
        """How the run stands by the screen's clock."""
        if self.view is None:
            reason = self.trouble or WAITING_FOR_STORE
            priority = Priority.CRITICAL if self.trouble else None
            word = StateWord.NO_VIEW if self.trouble else StateWord.OPENING
            return Standing(word, reason, "", priority, False)
        at = self.beneath
        if self.trouble and at.word is StateWord.RECORDER_STOPPED:
            priority = Priority.CRITICAL
            return Standing(StateWord.NO_VIEW, self.trouble, NO_VIEW_TO_DO, priority, fresh=False)
        if at.priority is not None or not at.fresh or self.view.ended:
            return at
        left_s = self.hold_left_s
        if left_s is not None:
            return Standing(StateWord.HOLD, hold_sentence(left_s), HOLD_TO_DO, asks=True)
        prompt = self.prompt
        if prompt is not None:
            text = prompt_text(prompt.prompt)
            return Standing(text.word, prompt.message, text.to_do, asks=True)
        return at

    @property
    def beneath(self) -> Standing:
        """How the run itself stands, under what is asked of the operator; needs a view."""
        assert self.view is not None
        return standing(situation(self.view, self.now_s))

    @property
    def hold_left_s(self) -> float | None:
        """What is left of the hold that the operator began; None where none runs."""
        view = self.view
        if view is None or self.cursor_s is not None:
            return None
        return hold_left_s(view.requests, view.prompts, view.segment, self.now_s)

    @property
    def fresh_for_s(self) -> float | None:
        """Seconds of the reader's time until the values are too old; None where they are."""
        view, sample = self.view, self.sample
        if view is None or view.last is None or sample is None:
            return None
        age_s = self.now_s - min(sample.t_s, view.last.t_s)
        facts = view.row.facts
        return max(stale_after_s(facts) - age_s, 0.0) / facts.clock_speed

    @property
    def prompt(self) -> Prompt | None:
        """What the operator is asked to look at and has not confirmed; None on a review."""
        view = self.view
        if view is None or not view.prompts or self.cursor_s is not None:
            return None
        newest = standing_prompt(view.prompts)
        if newest is None or self.now_s - newest.t_s > STANDS_FOR_S.get(
            newest.prompt, PROMPT_FOR_S
        ):
            return None
        asked_ns = view.row.began_utc_ns + newest.t_ns
        confirmed = any(
            one.kind is RequestKind.NEXT_STEP
            and one.detail == newest.prompt
            and one.utc_ns >= asked_ns
            for one in view.requests
        )
        return None if confirmed else newest

    @property
    def badges(self) -> tuple[tuple[str, bool], ...]:
        """How the recorder's own parts stand, where that is worth a word."""
        view = self.view
        if view is None or view.ended or self.cursor_s is not None:
            return ()
        return badges(view.statuses, view.forward)

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

    @property
    def urgency(self) -> tuple[int, bool, bool, float]:
        """Worst first: what is abnormal, has to be acknowledged or confirmed, then by the trip."""
        at, forecast = self.standing, self.forecast
        rank = len(RANK) if at.priority is None else RANK[at.priority]
        trip_in_s = None if forecast is None else forecast.trip_in_s
        ended = self.view is not None and self.view.ended
        soon_s = float("inf") if trip_in_s is None else trip_in_s
        return (rank + ended, self.waiting is None, self.prompt is None, soon_s)


def situation(view: View, now_s: float) -> Situation:
    """What the words need to know of this picture at this time."""
    since_s = silent_since_s(view.last_sample, view.gaps)
    return situation_at(
        now_s,
        view.row,
        view.segment,
        view.last,
        since_s,
        view.estimate,
        view.alarms,
        view.statuses,
    )
