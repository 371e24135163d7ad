"""The state of a run in one word and one sentence, for screens and for printed lines.

The first rule that holds wins:

1. A run that has ended is FINISHED.
2. A run without any row is STARTING, or RECORDER STOPPED once rows should have come.
3. Rows that stopped coming are RECORDER STOPPED; polls without an answer are NO DATA, or what an
   alarm says of their silence.
4. A standing alarm that has a word of its own says it; the worst first, by `_ALARM_WORDS`.
5. Any other critical or high alarm says ALARM and its message.
6. A supply that says it has cut out is CUT OUT, one whose output is off is OFF.
7. A swab that is off the part is SWAB OFF.
8. A trip within sight is RISING; no forecast is STARTING or LEARNING with the reason; else STEADY.
9. Under the words of 6 to 8 a medium alarm that stands says what to do; a low one is in the list.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from drivers.reading import Mode
from monitor.base.moments import clock
from monitor.model.alarm import RANK, AlarmEvent, AlarmName, Priority, State
from monitor.model.estimate import Estimate, Forecast, NoForecast
from monitor.model.run import EndReason, LimitKind, RunFacts
from monitor.model.sample import Gap, Sample
from monitor.text.alarms import action_of, what_to_do
from monitor.text.numbers import about, ahead, amps_text, for_how_long, trip_range

SIGHT_HORIZONS = 20.0
"""A trip beyond so many horizons is not in sight. The forecast tells none there, and lets one come
into sight much nearer, so that this word does not change to and fro."""

OPENS_S = 5.0
"""A link that fails is opened anew, which may hold its rows up for so long, seconds."""

METERS = "Go by the supply's own meters."
NO_VIEW_TO_DO = f"{METERS} The recorder may still be running; this screen sees nothing."
WAITING_FOR_STORE = "waiting for the store"

FLOWS = 0.02
"""Share of the limit from which current flows through the part."""

ACTIVE = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.SHELVED)
"""States in which an alarm's condition holds now."""


class StateWord(StrEnum):
    """What stands in big letters at the head of a screen."""

    STEADY = "STEADY"
    RISING = "RISING"
    LEARNING = "LEARNING"
    STARTING = "STARTING"
    OFF = "OFF"
    LIFTED = "SWAB OFF"
    LIMITED = "LIMITED"
    CUT_OUT = "CUT OUT"
    SHORT = "SHORT"
    REVERSED = "REVERSED"
    AMPS_JUMPED = "AMPS JUMPED"
    NO_CURRENT = "NO CURRENT"
    VOLTS_HIGH = "VOLTS HIGH"
    LIMIT_WRONG = "LIMIT WRONG"
    FROZEN = "FROZEN"
    STILL_ON = "STILL ON"
    TOO_HOT = "TOO HOT"
    ALARM = "ALARM"
    NO_DATA = "NO DATA"
    WATCH_FAILED = "WATCH FAILED"
    WRONG_SUPPLY = "WRONG SUPPLY"
    RECORDER_STOPPED = "RECORDER STOPPED"
    FINISHED = "FINISHED"
    OPENING = "OPENING"
    NO_VIEW = "NO VIEW"
    HOLD = "KEEP CURRENT ON"
    LOOKS_FINISHED = "DONE?"
    HOLD_DONE = "TIME UP"
    CHECK_WETTING = "WETTING?"
    LOG_THE_BATH = "WRITE UP BATH"
    OUTSIDE_STEP_WINDOW = "OUT OF RANGE"
    LOOK = "PLEASE LOOK"
    VOLTS_CHANGED = "VOLTS UP?"
    TURN_DOWN = "TURN DOWN"


@dataclass(frozen=True, slots=True)
class Situation:
    """What is known of a run at one moment, by the reader's clock.

    Parameters
    ----------
    facts
        The run's limit and poll interval.
    last
        The newest row; None while there is none.
    age_s
        Seconds since that row; without one, since the recorder began the run.
    silent_s
        Seconds since the last answered poll; None where there was none yet.
    estimate
        The newest one.
    alarms
        The latest event of every alarm that is not back to normal.
    ended, ended_s, ended_why
        Whether the run is over, its length, and why it ended.
    next_try_s
        Seconds of real time until a lost link is tried again; None where that is not known.
    """

    facts: RunFacts
    last: Sample | Gap | None = None
    age_s: float = 0.0
    silent_s: float | None = None
    estimate: Estimate | None = None
    alarms: tuple[AlarmEvent, ...] = ()
    ended: bool = False
    ended_s: float | None = None
    ended_why: str | None = None
    next_try_s: float | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """How a run stands.

    Parameters
    ----------
    word
        In big letters.
    sentence
        The rest of the state sentence, without the word.
    to_do
        What the operator should do now; "" for nothing.
    priority
        Of what is abnormal; None while all is well.
    fresh
        False where the last values are too old to be shown as present.
    asks
        True where the operator is asked for a look or a confirmation; that is no alarm.
    """

    word: StateWord
    sentence: str
    to_do: str = ""
    priority: Priority | None = None
    fresh: bool = True
    asks: bool = False

    @property
    def abnormal(self) -> bool:
        """True where something asks for the operator."""
        return self.priority is not None

    @property
    def line(self) -> str:
        """Word and sentence in one line, such as "STEADY: no trip expected"."""
        return f"{self.word}: {self.sentence}"


def stale_after_s(facts: RunFacts) -> float:
    """Run seconds after which a value is too old: two polls and one second of the reader's time."""
    return 2.0 * facts.poll_s + facts.clock_speed


def standing(situation: Situation) -> Standing:
    """The state sentence of a run, by the rules at the head of this file.

    Examples
    --------
    >>> from monitor.model.run import RunFacts
    >>> standing(Situation(RunFacts("bench-1", "scpi:/dev/ttyUSB0", limit_amps=10.0))).line
    'STARTING: waiting for the first answer'
    """
    if situation.ended:
        return _finished(situation)
    limit_s = stale_after_s(situation.facts)
    patience_s = OPENS_S * situation.facts.clock_speed if isinstance(situation.last, Gap) else 0.0
    if situation.age_s > limit_s + patience_s:
        return _recorder_stopped(situation)
    if situation.last is None:
        return Standing(StateWord.STARTING, "waiting for the first answer", fresh=False)
    if isinstance(situation.last, Gap) and (
        situation.silent_s is None or situation.silent_s > limit_s
    ):
        return _no_data(situation, situation.last)
    return _alarming(situation) or _with_lesser(situation, _running(situation))


def next_to_acknowledge(alarms: tuple[AlarmEvent, ...]) -> AlarmEvent | None:
    """The alarm that one press acknowledges: the worst, and of equals the oldest."""
    waiting = [
        event
        for event in alarms
        if event.state in (State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED)
    ]
    return min(waiting, key=lambda e: (RANK[e.priority], e.t_ns, e.alarm), default=None)


def trip_sentence(forecast: Forecast, kind: LimitKind = LimitKind.TRIPS) -> str:
    """The forecast in words, such as "trip in about 2 min (1 to 4)"."""
    what = "trip" if kind is LimitKind.TRIPS else "limit"
    if forecast.trip_in_s is None:
        return f"no {what} expected"
    spread = trip_range(forecast.trip_in_low_s, forecast.trip_in_s, forecast.trip_in_high_s)
    return f"{what} in {about(forecast.trip_in_s)}" + (f" ({spread})" if spread else "")


def _finished(situation: Situation) -> Standing:
    length = "" if situation.ended_s is None else f" after {clock(situation.ended_s)}"
    why = (
        ""
        if situation.ended_why is None
        else _ENDED.get(situation.ended_why, f": {situation.ended_why}")
    )
    return Standing(StateWord.FINISHED, f"run ended{length}{why}", fresh=False)


_ENDED: dict[str, str] = {
    EndReason.STOPPED: ": stopped",
    EndReason.TIME_OVER: ": time is over",
    EndReason.BY_OPERATOR: " by the operator",
    EndReason.AFTER_CUT_OUT: " after a cut-out",
    EndReason.INTERRUPTED: ": the recorder was interrupted",
}


def _recorder_stopped(situation: Situation) -> Standing:
    if situation.last is None:
        sentence = f"no reading at all for {for_how_long(situation.age_s)}"
    else:
        sentence = f"no reading for {for_how_long(situation.age_s)}"
    return Standing(
        StateWord.RECORDER_STOPPED,
        sentence,
        f"{METERS} Start the recorder again; until then no alarm will warn you.",
        Priority.CRITICAL,
        fresh=False,
    )


_SILENCE_WORDS = {
    AlarmName.WATCH_FAILED: StateWord.WATCH_FAILED,
    AlarmName.WRONG_SUPPLY: StateWord.WRONG_SUPPLY,
}
"""Alarms in whose silence looking at cables does not help."""


def _no_data(situation: Situation, gap: Gap) -> Standing:
    for alarm, word in _SILENCE_WORDS.items():
        for event in situation.alarms:
            if event.alarm == alarm and event.state in ACTIVE:
                to_do = what_to_do(alarm)
                return Standing(word, event.message, to_do, Priority.CRITICAL, fresh=False)
    since = "" if situation.silent_s is None else f" for {for_how_long(situation.silent_s)}"
    again = "" if situation.next_try_s is None else f", next try in {situation.next_try_s:.0f} s"
    sentence = f"{gap.reason}{since}{again}"
    for event in situation.alarms:
        if event.alarm == AlarmName.NO_DATA and event.state in ACTIVE:
            # Of a lower priority where the output had been off: nothing is lost then.
            return Standing(
                StateWord.NO_DATA, sentence, action_of(event), event.priority, fresh=False
            )
    action = what_to_do(AlarmName.NO_DATA)
    return Standing(StateWord.NO_DATA, sentence, action, Priority.CRITICAL, fresh=False)


def _cut_out(situation: Situation, since_t_s: float | None) -> Standing:
    cooling = ""
    if since_t_s is not None and situation.last is not None:
        cooling = f", {clock(situation.last.t_s + situation.age_s - since_t_s)} so far"
    to_do = what_to_do(AlarmName.TRIPPED)
    return Standing(StateWord.CUT_OUT, f"let it cool{cooling}", to_do, Priority.CRITICAL)


def _tripped(situation: Situation, event: AlarmEvent) -> Standing:
    if event.priority is not Priority.CRITICAL:
        # Milder than the catalogue's: volts and amps do not tell a cut-out from the switch.
        to_do = action_of(event)
        return Standing(
            StateWord.OFF, "cut out near the limit, or switched off", to_do, event.priority
        )
    if (
        isinstance(situation.last, Sample)
        and (situation.last.amps or 0.0) > FLOWS * situation.facts.limit_amps
    ):
        # A supply that came back by itself may cut out again at once.
        sentence = "current flows again; watch it for a minute"
        return Standing(StateWord.CUT_OUT, sentence, action_of(event), event.priority)
    return _cut_out(situation, event.t_s)


def _limited(situation: Situation, event: AlarmEvent) -> Standing:
    return _holding(situation, event.priority, action_of(event))


def _holding(situation: Situation, priority: Priority | None, to_do: str) -> Standing:
    amps = situation.last.amps if isinstance(situation.last, Sample) else None
    held = situation.facts.limit_amps if amps is None else amps
    return Standing(StateWord.LIMITED, f"the supply is holding {amps_text(held)}", to_do, priority)


def _rising(situation: Situation, event: AlarmEvent) -> Standing:
    forecast = None if situation.estimate is None else situation.estimate.forecast
    if forecast is None or forecast.trip_in_s is None:
        forecast = Forecast(event.trip_in_s, event.trip_in_low_s, event.trip_in_high_s)
    sentence = trip_sentence(forecast, situation.facts.limit_kind)
    return Standing(StateWord.RISING, sentence, action_of(event), event.priority)


def _told(word: StateWord) -> Callable[[Situation, AlarmEvent], Standing]:
    def tell(_: Situation, event: AlarmEvent) -> Standing:
        return Standing(word, event.message, action_of(event), event.priority)

    return tell


_ALARM_WORDS: tuple[tuple[AlarmName, Callable[[Situation, AlarmEvent], Standing]], ...] = (
    (AlarmName.SHORT, _told(StateWord.SHORT)),
    (AlarmName.TRIPPED, _tripped),
    (AlarmName.WRONG_SUPPLY, _told(StateWord.WRONG_SUPPLY)),
    (AlarmName.REVERSED, _told(StateWord.REVERSED)),
    (AlarmName.OVERHEATING, _told(StateWord.TOO_HOT)),
    (AlarmName.READINGS_FROZEN, _told(StateWord.FROZEN)),
    (AlarmName.AMPS_JUMPED, _told(StateWord.AMPS_JUMPED)),
    (AlarmName.LIMIT_WRONG, _told(StateWord.LIMIT_WRONG)),
    (AlarmName.CURRENT_LIMITED, _limited),
    (AlarmName.TRIP_EXPECTED, _rising),
    (AlarmName.NO_CURRENT, _told(StateWord.NO_CURRENT)),
    (AlarmName.STILL_ON, _told(StateWord.STILL_ON)),
    (AlarmName.VOLTS_HIGH, _told(StateWord.VOLTS_HIGH)),
)


def _alarming(situation: Situation) -> Standing | None:
    active = {event.alarm: event for event in situation.alarms if event.state in ACTIVE}
    for name, tell in _ALARM_WORDS:
        if name in active:
            return tell(situation, active[name])
    worst = min(active.values(), key=lambda e: (RANK[e.priority], e.t_ns), default=None)
    if worst is not None and RANK[worst.priority] <= RANK[Priority.HIGH]:
        return _told(StateWord.ALARM)(situation, worst)
    return None


def _with_lesser(situation: Situation, shown: Standing) -> Standing:
    standing_now = [
        e for e in situation.alarms if e.state in ACTIVE and e.state is not State.SHELVED
    ]
    medium = [event for event in standing_now if event.priority is Priority.MEDIUM]
    if shown.priority is not None or not medium:
        return shown
    oldest = min(medium, key=lambda event: event.t_ns)
    return replace(shown, to_do=action_of(oldest), priority=oldest.priority)


def _running(situation: Situation) -> Standing:
    mode = situation.last.mode if isinstance(situation.last, Sample) else Mode.UNKNOWN
    if mode is Mode.CUT_OUT:
        return _cut_out(situation, None)
    if mode is Mode.OUTPUT_OFF:
        return Standing(StateWord.OFF, "output is off")
    if situation.estimate is None:
        return Standing(StateWord.STARTING, "not enough data yet")
    if not situation.estimate.in_contact:
        return Standing(StateWord.LIFTED, "forecast paused")
    forecast = situation.estimate.forecast
    if forecast.why is NoForecast.CURRENT_HELD:
        return _holding(situation, None, "")
    if forecast.trip_in_s is not None and forecast.trip_in_s <= _sight_s(situation.facts):
        return Standing(StateWord.RISING, trip_sentence(forecast, situation.facts.limit_kind))
    return _without_trip(situation, forecast)


_WHY_NOT = {
    NoForecast.NOT_ENOUGH_DATA: Standing(StateWord.STARTING, "not enough data yet"),
    NoForecast.AS_EXPECTED: Standing(StateWord.STARTING, "amps as expected"),
    NoForecast.GAP: Standing(StateWord.LEARNING, "readings are back, no forecast yet"),
    NoForecast.VOLTS_CHANGED: Standing(StateWord.LEARNING, "the volts changed, no forecast yet"),
    NoForecast.LOOKS_FINISHED: Standing(
        StateWord.LEARNING, "the bath reading changed, no forecast yet"
    ),
    NoForecast.OUTPUT_OFF: Standing(StateWord.OFF, "output is off"),
    NoForecast.LIMIT_WRONG: Standing(StateWord.LEARNING, "no forecast: check the limit"),
}


def _without_trip(situation: Situation, forecast: Forecast) -> Standing:
    if forecast.why in _WHY_NOT:
        return _WHY_NOT[forecast.why]
    what = "trip" if situation.facts.limit_kind is LimitKind.TRIPS else "limit"
    if forecast.trip_in_s is not None:
        return Standing(
            StateWord.STEADY, f"no {what} expected within {ahead(_sight_s(situation.facts))}"
        )
    return Standing(StateWord.STEADY, f"no {what} expected")


def _sight_s(facts: RunFacts) -> float:
    return SIGHT_HORIZONS * facts.horizon_s
