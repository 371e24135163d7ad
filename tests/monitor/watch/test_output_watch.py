"""An output that is on for nothing, and one that has been off when the supply goes silent."""

from monitor.model.event import ASKS_FOR_A_HAND, Prompt
from monitor.watch.output_watch import OutputWatch
from monitor.watch.strip_steps import Step
from tests.monitor.watch.seeing import seen


def test_current_a_minute_after_the_hold_is_told_until_the_output_is_off() -> None:
    watch, times = OutputWatch(), []
    for n in range(200):
        step = Step.HOLDING if n < 20 else Step.HELD
        watch.update(seen(float(n), 5.0, step=step))
        times += [n] if watch.findings[0].holds else []
    assert (times[0], times[-1]) == (80, 199)
    watch.update(seen(200.0, 0.0, 0.0, off=True, step=Step.HELD))
    assert watch.findings[0].holds is False


def test_volts_without_current_are_told_after_a_quarter_of_an_hour() -> None:
    watch = OutputWatch()
    times = []
    for n in range(1000):
        watch.update(seen(float(n), 0.0))
        times += [n] if watch.findings[0].holds else []
    assert times[0] == 900
    assert watch.findings[0].message == "the output is on at 7.0 V, and no current for 15 min"
    watch.update(seen(1000.0, 5.0))
    assert watch.findings[0].holds is False


def test_a_swab_that_was_put_down_is_asked_about_once_each_time() -> None:
    watch = OutputWatch()
    told: list[Prompt] = []
    for n in range(700):
        amps = 5.0 if n < 100 or n == 400 else 0.0
        told += watch.update(seen(float(n), amps, swab=True))
    assert [(one.prompt, one.t_s) for one in told] == [
        ("output-still-on", 220.0),
        ("output-still-on", 521.0),
    ]
    assert told[0].prompt in ASKS_FOR_A_HAND


def test_in_a_tank_nothing_is_asked_of_a_swab() -> None:
    watch = OutputWatch()
    assert [one for n in range(700) for one in watch.update(seen(float(n), 0.0))] == []


def test_silence_after_a_minute_off_asks_once_for_the_end_of_the_run() -> None:
    watch = OutputWatch()
    told: list[Prompt] = []
    for n in range(80):
        watch.update(seen(float(n), 0.0, 0.0, off=True))
    assert watch.is_at_rest
    for n in range(80, 300):
        told += watch.update(seen(float(n), None, off=True, lost=n > 85))
    assert [(one.prompt, one.t_s) for one in told] == [("end-the-run", 86.0)]
    assert told[0].prompt not in ASKS_FOR_A_HAND


def test_silence_while_current_flowed_or_shortly_after_is_no_end_of_the_day() -> None:
    for off_from in (0, 50):
        watch = OutputWatch()
        for n in range(100):
            off = off_from > 0 and n >= off_from
            watch.update(seen(float(n), 0.0 if off else 5.0, off=off))
        assert not watch.is_at_rest
        assert not watch.update(seen(110.0, None, lost=True))
