"""Pictures of made-up runs for the screens' tests: fixed numbers, no clock, no store."""

from dataclasses import replace
from math import sin

from drivers.reading import Mode
from monitor.model.alarm import AlarmEvent, Change, Priority, State
from monitor.model.estimate import Charge, Estimate, Forecast, NoForecast
from monitor.model.event import Mark
from monitor.model.run import GapRow, LimitKind, RunFacts, RunRow, Segment
from monitor.model.sample import Gap, Sample
from monitor.store.columns import Column
from tui.glyphs import BRAILLE, Glyphs
from tui.moment import Moment
from tui.panels.chart import live_window
from tui.view import Chart, View, Window

BEGAN_UTC_NS = 1_767_261_600_000_000_000  # 2026-01-01T10:00:00Z
BOOT = "f0f0f0f0-0000-4000-8000-000000000000"
LIMIT_AMPS = 10.0
LOCAL_TIME = "11:18:24"

FACTS = RunFacts(
    "bench-1", "scpi:/dev/ttyUSB0", LIMIT_AMPS, bath="north tank", bath_litres=9.0, poll_s=0.2
)


def row(ended_s: float | None = None, why: str | None = None, facts: RunFacts = FACTS) -> RunRow:
    ended_ns = None if ended_s is None else int(ended_s * 1e9)
    ended_utc = None if ended_ns is None else BEGAN_UTC_NS + ended_ns
    return RunRow(12, facts, "0.1.0", BEGAN_UTC_NS, 3600, ended_utc, ended_ns, why)


def segment() -> Segment:
    return Segment(12, 0, BOOT, 4321, 0, 0, BEGAN_UTC_NS, 5_000_000_000, 0, BEGAN_UTC_NS, "begun")


def amps_at(t_s: float, trips_at_s: float | None) -> float:
    """Amps of a bath that settles, and then creeps up to the limit where it is to trip."""
    wobble = 0.04 * sin(t_s * 0.9) + 0.03 * sin(t_s * 0.23)
    if trips_at_s is None:
        return 7.2 + wobble
    if t_s >= trips_at_s:
        return 0.0
    return 6.6 + 3.4 * float((t_s / trips_at_s) ** 1.6) + wobble


def chart(
    window: Window,
    until_s: float,
    trips_at_s: float | None,
    holes: tuple[tuple[float, float], ...] = (),
) -> Chart:
    columns = []
    for index in range(window.count):
        t_s = window.from_s + (index + 0.5) * window.column_s
        ends = (
            window.from_s + index * window.column_s,
            window.from_s + (index + 1) * window.column_s,
        )
        if t_s > until_s:
            columns.append(Column(*ends))
        elif any(begin <= t_s < end for begin, end in holes):
            columns.append(Column(*ends, missing=7, is_gap=True))
        else:
            amps = amps_at(t_s, trips_at_s)
            spread = 0.05 if amps else 0.0
            volts = 6.8 if amps else 0.0
            columns.append(
                Column(
                    *ends,
                    samples=7,
                    amps_low=amps - spread,
                    amps_high=amps + spread,
                    amps_mean=amps,
                    volts_low=volts - spread / 5,
                    volts_high=volts + spread / 5,
                    volts_mean=volts,
                )
            )
    return Chart(window, tuple(columns))


def sample(t_s: float, amps: float, mode: Mode = Mode.CONSTANT_VOLTAGE) -> Sample:
    volts = 6.82 if amps else 0.0
    return Sample(
        int(t_s * 5), int(t_s * 1e9), BEGAN_UTC_NS + int(t_s * 1e9), 900, volts, amps, mode=mode
    )


def estimate(t_s: float, forecast: Forecast, rise: float, amps_expected: float) -> Estimate:
    return Estimate(
        int(t_s * 5),
        int(t_s * 1e9),
        forecast,
        Charge(1.42, 1.42, 1.42, 0.9981),
        siemens=1.55 * (1.0 + rise),
        siemens_at_start=1.55,
        siemens_per_minute=0.01,
        amps_expected=amps_expected,
        warming_share=0.66,
        celsius=31.4,
    )


def raised(
    alarm: str,
    t_s: float,
    priority: Priority,
    message: str,
    state: State = State.UNACKNOWLEDGED,
) -> AlarmEvent:
    return AlarmEvent(
        alarm, 1, Change.RAISED, state, priority, int(t_s * 5), int(t_s * 1e9), message
    )


EXPECTED = raised(
    "trip-expected",
    880.0,
    Priority.HIGH,
    "amps will reach the limit of 10.0 A in about 2 min (1 to 4)",
)
TRIPPED = raised(
    "tripped", 1000.0, Priority.CRITICAL, "the supply cut out at 10.0 A after 16:40 of stripping"
)
SILENT = raised("no-data", 1006.0, Priority.CRITICAL, "no good reading for 5 s: no answer")
MARKS = (Mark(1, 420_000_000_000, 0, "swab flushed"), Mark(2, 760_000_000_000, 0))
SOON = Forecast(118.0, 72.0, 205.0, chance_within_horizon=0.53)


def _live(now_s: float, trips_at_s: float | None, width: int, glyphs: Glyphs) -> Chart:
    return chart(live_window(now_s, None, width, glyphs.across), now_s, trips_at_s)


def steady(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    now_s = 500.0
    view = View(
        row(),
        segment(),
        sample(now_s, amps_at(now_s, None)),
        sample(now_s, amps_at(now_s, None)),
        estimate(now_s, Forecast(why=NoForecast.NO_RISE), 0.012, 7.2),
        chart=_live(now_s, None, width, glyphs),
    )
    return Moment(view, now_s + 0.1, LOCAL_TIME, glyphs)


def rising(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    now_s = 904.0
    last = sample(now_s, amps_at(now_s, 1000.0))
    view = View(
        row(),
        segment(),
        last,
        last,
        estimate(now_s, SOON, 0.18, 9.35),
        alarms=(EXPECTED,),
        events=(EXPECTED,),
        marks=MARKS,
        gaps=(GapRow(2600, 520_000_000_000, 545_000_000_000, 125, "no answer", ""),),
        chart=chart(
            live_window(now_s, None, width, glyphs.across), now_s, 1000.0, ((520.0, 545.0),)
        ),
    )
    return Moment(view, now_s + 0.1, LOCAL_TIME, glyphs)


def cut_out(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    now_s = 1220.0
    last = sample(now_s, 0.0, Mode.CUT_OUT)
    view = View(
        row(),
        segment(),
        last,
        last,
        estimate(now_s, Forecast(why=NoForecast.OUTPUT_OFF), 0.21, 0.0),
        alarms=(replace(EXPECTED, state=State.ACKNOWLEDGED), TRIPPED),
        events=(EXPECTED, TRIPPED),
        marks=MARKS,
        chart=_live(now_s, 1000.0, width, glyphs),
    )
    return Moment(view, now_s + 0.1, LOCAL_TIME, glyphs)


def no_data(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    now_s, lost_s = 1006.4, 1000.0
    last = Gap(int(now_s * 5), int(now_s * 1e9), BEGAN_UTC_NS + int(now_s * 1e9), "no answer")
    view = View(
        row(),
        segment(),
        last,
        sample(lost_s, 8.73),
        estimate(lost_s, Forecast(why=NoForecast.GAP), 0.09, 8.8),
        alarms=(SILENT,),
        events=(SILENT,),
        gaps=(GapRow(5000, int(lost_s * 1e9), None, 32, "no answer", ""),),
        chart=chart(
            live_window(now_s, None, width, glyphs.across), now_s, 1400.0, ((lost_s, 9e9),)
        ),
    )
    return Moment(view, now_s + 0.1, LOCAL_TIME, glyphs)


def limited(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    now_s = 500.0
    held = raised("current-limited", 470.0, Priority.MEDIUM, "amps held at 10.0 A, volts falling")
    last = sample(now_s, 10.0, Mode.CONSTANT_CURRENT)
    facts = replace(FACTS, limit_kind=LimitKind.HOLDS)
    view = View(
        row(facts=facts),
        segment(),
        last,
        last,
        estimate(now_s, Forecast(why=NoForecast.NO_RISE), 0.25, 10.0),
        alarms=(held,),
        events=(held,),
        chart=_live(now_s, 480.0, width, glyphs),
    )
    return Moment(view, now_s + 0.1, LOCAL_TIME, glyphs)


def stopped(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    still = rising(width, glyphs)
    return replace(still, now_s=still.now_s + 14.0)


def starting(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    now_s = 8.0
    last = sample(now_s, 6.7)
    view = View(
        row(),
        segment(),
        last,
        last,
        Estimate(
            40,
            int(now_s * 1e9),
            Forecast(why=NoForecast.NOT_ENOUGH_DATA),
            Charge(0.012, 0.012, 0.012),
        ),
        chart=_live(now_s, 1000.0, width, glyphs),
    )
    return Moment(view, now_s + 0.1, LOCAL_TIME, glyphs)


def review(width: int = 120, glyphs: Glyphs = BRAILLE) -> Moment:
    end_s = 1220.0
    count = max((width - 7) * glyphs.across, 1)
    view = View(
        row(end_s, "ended by the operator"),
        segment(),
        sample(end_s, 0.0, Mode.CUT_OUT),
        sample(end_s, 0.0, Mode.CUT_OUT),
        estimate(end_s, Forecast(why=NoForecast.OUTPUT_OFF), 0.21, 0.0),
        events=(EXPECTED, TRIPPED, replace(TRIPPED, change=Change.ACKNOWLEDGED)),
        marks=MARKS,
        gaps=(GapRow(2600, 520_000_000_000, 545_000_000_000, 125, "no answer", ""),),
        chart=chart(Window(0.0, end_s, count), end_s, 1000.0, ((520.0, 545.0),)),
    )
    return Moment(view, end_s, LOCAL_TIME, glyphs, cursor_s=900.0)


LIVE = {
    "steady": steady,
    "rising": rising,
    "cut-out": cut_out,
    "no-data": no_data,
    "limited": limited,
    "recorder-stopped": stopped,
    "starting": starting,
}
