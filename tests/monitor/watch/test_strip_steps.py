"""From a strip that looks finished to the wetting test, rule by rule."""

from monitor.analysis.finish import Finish
from monitor.text.hold import HOLD_RUNS
from monitor.watch.strip_steps import Step, StripSteps

FALL = Finish(-0.12, 290.0, 350.0, 0.47)


def told(steps: StripSteps, t_s: float, finish: Finish | None = None, off: bool = False) -> str:
    return ", ".join(p.prompt for p in steps.update(round(t_s), round(t_s * 1e9), finish, off))


def test_the_end_is_asked_about_once_and_never_taken_for_granted() -> None:
    steps = StripSteps()
    (prompt,) = steps.update(1, 350 * 10**9, FALL, False)
    assert prompt.prompt == "strip-looks-finished"
    assert "fell by 12% within 60 s" in prompt.message
    assert "Look at the part" in prompt.message
    assert told(steps, 360.0, FALL) == ""
    assert told(steps, 900.0) == ""


def test_a_rise_is_told_as_one() -> None:
    (prompt,) = StripSteps().update(1, 1, Finish(0.08, 1.0, 60.0, 0.5), False)
    assert "rose by 8%" in prompt.message


def test_confirmed_the_hold_runs_twenty_seconds() -> None:
    # 15 to 30 s, more if in doubt (common practice, no source).
    steps = StripSteps()
    told(steps, 350.0, FALL)
    assert steps.confirm(355.0) == "keep the current on for 20 s"
    assert steps.confirm(360.0) == HOLD_RUNS
    assert told(steps, 374.9) == ""
    assert told(steps, 375.0) == "hold-done"
    assert told(steps, 376.0) == ""


def test_the_operators_own_eye_may_begin_the_hold() -> None:
    steps = StripSteps()
    steps.confirm(100.0)
    assert told(steps, 120.0) == "hold-done"


def test_switched_off_the_wetting_is_asked_for_and_the_next_strip_begins() -> None:
    # ASTM F22: the film of water must not break within one minute.
    steps = StripSteps()
    steps.confirm(100.0)
    told(steps, 120.0)
    assert told(steps, 125.0, off=True) == ""
    (prompt,) = steps.update(9, 127 * 10**9, None, True)
    assert prompt.prompt == "check-wetting"
    assert "unbroken film for one minute" in prompt.message
    assert "only" not in prompt.message
    assert steps.step is Step.STRIPPING
    assert told(steps, 140.0, off=True) == ""


def test_a_short_hold_is_told() -> None:
    steps = StripSteps()
    steps.confirm(100.0)
    told(steps, 105.0, off=True)
    (prompt,) = steps.update(9, 107 * 10**9, None, True)
    assert "kept on for only 5 s; 15 to 30 s are usual" in prompt.message


def test_off_before_anything_looked_finished_asks_for_nothing() -> None:
    steps = StripSteps()
    assert told(steps, 10.0, off=True) == ""
    assert told(steps, 20.0, off=True) == ""


def test_a_moment_without_output_is_not_off() -> None:
    steps = StripSteps()
    steps.confirm(100.0)
    told(steps, 105.0, off=True)
    told(steps, 106.0)
    assert told(steps, 107.5, off=True) == ""


def test_a_prompt_that_asks_for_no_hold_begins_none() -> None:
    steps = StripSteps()
    assert steps.confirm(100.0, "check-wetting") == "noted"
    assert steps.step is Step.STRIPPING
    assert steps.confirm(101.0, "strip-looks-finished") == "keep the current on for 20 s"


def test_an_end_that_nobody_confirms_was_none_and_the_next_is_asked_about() -> None:
    steps = StripSteps()
    assert told(steps, 350.0, FALL) == "strip-looks-finished"
    assert told(steps, 500.0) == ""
    assert steps.step is Step.LOOKS_FINISHED
    assert told(steps, 531.0) == ""
    assert told(steps, 600.0, off=True) == ""
    assert told(steps, 900.0, FALL) == "strip-looks-finished"
