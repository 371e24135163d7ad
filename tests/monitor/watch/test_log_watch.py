"""After a strip that came near the limit the bath is to be logged, once, and not at once."""

import pytest

from monitor.model.event import ONLY_SAID, Prompt
from monitor.model.run import RunFacts
from monitor.model.sample import Gap
from monitor.watch.log_watch import LogWatch
from monitor.watch.vigil import Vigil
from tests.monitor.analysis.traces import sample


def times(watch: LogWatch, spans: list[tuple[int, float, bool]]) -> list[float]:
    """When it prompts in stretches of so many seconds at so many amps, off or not."""
    told, at = [], 0
    for seconds, amps, is_off in spans:
        for _ in range(seconds):
            prompt = watch.update(sample(at, float(at), 7.0, amps), amps, is_off)
            told += [] if prompt is None else [prompt.t_s]
            at += 1
    return told


@pytest.mark.parametrize(("peak", "expected"), [(8.9, []), (9.0, [220.0]), (9.9, [220.0])])
def test_only_a_bath_near_its_limit_is_to_be_logged(peak: float, expected: list[float]) -> None:
    assert times(LogWatch(10.0), [(100, peak, False), (400, 0.0, True)]) == expected


def test_a_pause_is_no_end_and_it_is_told_once() -> None:
    pauses = [(60, 9.5, False), (100, 0.0, True), (60, 5.0, False), (300, 0.0, True)]
    assert times(LogWatch(10.0), [*pauses, *pauses]) == [340.0]


def test_a_silence_neither_counts_as_amps_nor_ends_anything() -> None:
    watch = LogWatch(10.0)
    assert watch.update(Gap(0, 0, 0, "no answer"), None, is_off=False) is None
    assert times(watch, [(300, 0.0, True)]) == []


def test_it_comes_after_the_wetting_test_and_has_its_words() -> None:
    vigil = Vigil(RunFacts("bench-1", "", limit_amps=10.0, poll_s=1.0))
    told: list[Prompt] = []
    for n in range(600):
        volts, amps = (7.0, 9.3) if n < 300 else (0.0, 0.0)
        if n == 250:
            vigil.next_step()
        told += vigil.update(sample(n, float(n), volts, amps)).prompts
    told = [one for one in told if one.prompt not in ONLY_SAID]
    assert [one.prompt for one in told] == ["hold-done", "check-wetting", "log-the-bath"]
    assert told[2].t_s - told[1].t_s > 60.0  # ASTM F22: the film is watched for one minute
