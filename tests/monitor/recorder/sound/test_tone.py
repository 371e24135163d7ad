"""The sound patterns as sound: rhythm by priority, loud, and no clicks."""

import io
import wave
from array import array
from itertools import pairwise

import pytest

from monitor.model.alarm import Priority
from monitor.recorder.sound.tone import PATTERNS, RATE_HZ, SOUNDS, wav


def samples(name: str) -> "array[int]":
    with wave.open(io.BytesIO(wav(name))) as sound:
        assert (sound.getnchannels(), sound.getsampwidth()) == (1, 2)
        assert sound.getframerate() == RATE_HZ
        return array("h", sound.readframes(sound.getnframes()))


@pytest.mark.parametrize("name", SOUNDS)
def test_the_bursts_can_be_counted(name: str) -> None:
    # The loudest of each 20 ms; a burst is a stretch of loud ones.
    heard = samples(name)
    step = RATE_HZ // 50
    loud = [max(abs(s) for s in heard[n : n + step]) > 8000 for n in range(0, len(heard), step)]
    begins = sum(now and not before for before, now in zip([False, *loud], loud, strict=False))
    assert begins == PATTERNS[name].bursts
    assert len(heard) / RATE_HZ == pytest.approx(PATTERNS[name].seconds, abs=0.01)


@pytest.mark.parametrize("name", SOUNDS)
def test_it_is_loud_and_neither_clips_nor_clicks(name: str) -> None:
    heard = samples(name)
    assert 24_000 < max(heard) <= 32_767
    jumps = [abs(b - a) for a, b in pairwise(heard)]
    assert max(jumps) < 16_000
    assert abs(heard[0]) < 200


def test_the_more_urgent_comes_in_a_quicker_rhythm() -> None:
    rates = [PATTERNS[p].bursts / PATTERNS[p].seconds for p in Priority]
    assert rates == sorted(rates, reverse=True)


def test_a_prompt_sounds_like_no_alarm() -> None:
    prompt = PATTERNS["prompt"]
    assert all(
        prompt.bursts != p.bursts or prompt.burst_s < 0.5 * p.burst_s
        for p in map(PATTERNS.__getitem__, Priority)
    )
