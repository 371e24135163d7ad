"""Amps that sink by a third within ten minutes at the same volts."""

from collections.abc import Callable

from monitor.model.event import Prompt
from monitor.watch.look_watch import LookWatch
from monitor.watch.strip_steps import Step
from tests.monitor.watch.seeing import seen


def told(
    amps: Callable[[float], float],
    seconds: int,
    volts: Callable[[float], float] = lambda _: 7.0,
    step: Step = Step.STRIPPING,
    swab: bool = False,
) -> list[Prompt]:
    watch = LookWatch()
    prompts: list[Prompt] = []
    for n in range(seconds):
        t_s = float(n)
        prompts += watch.update(seen(t_s, amps(t_s), volts(t_s), step=step, swab=swab))
    return prompts


def sinking(within_s: float, to_share: float) -> Callable[[float], float]:
    """5 A, that sink from the 100th second on."""
    return lambda t_s: 5.0 * (1.0 - (1.0 - to_share) * min(max(t_s - 100.0, 0.0) / within_s, 1.0))


def test_a_third_less_is_told_once_with_its_percent() -> None:
    (prompt,) = told(sinking(300.0, 0.6), 900)
    assert prompt.prompt == "look"
    assert 340.0 <= prompt.t_s <= 360.0
    assert "fallen by 32%" in prompt.message


def test_a_quarter_less_or_a_third_in_half_an_hour_is_not() -> None:
    assert told(sinking(300.0, 0.75), 900) == []
    assert told(sinking(1800.0, 0.6), 2400) == []


def test_a_step_down_is_another_prompts() -> None:
    assert told(sinking(1.0, 0.5), 600) == []


def test_amps_that_follow_the_volts_are_the_operators() -> None:
    assert told(sinking(300.0, 0.6), 900, lambda t_s: sinking(300.0, 0.7)(t_s) * 1.4) == []


def test_the_end_of_the_strip_and_the_hand_with_a_swab_are_known_otherwise() -> None:
    assert told(sinking(300.0, 0.6), 900, step=Step.LOOKS_FINISHED) == []
    assert told(sinking(300.0, 0.6), 900, swab=True) == []
