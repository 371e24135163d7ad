"""The sound pattern of each priority, and of a prompt, as a WAV file in memory.

The more urgent, the faster and the more bursts: five quick ones for critical, three for high, two
slow ones for medium, one for low. The rhythm tells them apart, not the pitch, for ears that no
longer hear high tones. A prompt is no alarm: two short bursts, the second higher than the first.
Each burst is a fundamental of some hundred hertz with two harmonics: that carries through a
workshop better than a pure tone.
"""

import io
import math
import wave
from array import array
from dataclasses import dataclass

from monitor.model.alarm import Priority

RATE_HZ = 16_000
LOUDEST = 32_000
"""Of the 32767 that 16 bits can say."""
EDGE_S = 0.01
"""Each burst swells and fades for so long, so that it does not click."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """One rhythm: so many bursts of so long, so far apart, seconds.

    Parameters
    ----------
    rise
        Each burst is so many times as high as the one before.
    """

    bursts: int
    burst_s: float
    pause_s: float
    hertz: float
    rise: float = 1.0

    @property
    def seconds(self) -> float:
        """The whole pattern."""
        return self.bursts * self.burst_s + (self.bursts - 1) * self.pause_s


PROMPT = "prompt"
"""The sound of a prompt that asks for a hand."""
SOUNDS = (*Priority, PROMPT)

PATTERNS: dict[str, Pattern] = {
    PROMPT: Pattern(2, 0.12, 0.05, 392.0, rise=4.0 / 3.0),
    Priority.CRITICAL: Pattern(5, 0.15, 0.08, 660.0),
    Priority.HIGH: Pattern(3, 0.25, 0.15, 550.0),
    Priority.MEDIUM: Pattern(2, 0.4, 0.3, 440.0),
    Priority.LOW: Pattern(1, 0.7, 0.0, 330.0),
}


def wav(name: str) -> bytes:
    """The pattern of a priority or a prompt as a WAV file: 16 bits, one channel.

    >>> wav(Priority.LOW)[:4], len(wav(Priority.LOW))
    (b'RIFF', 22444)
    """
    pattern = PATTERNS[name]
    samples = array("h")
    pause = array("h", bytes(2 * round(pattern.pause_s * RATE_HZ)))
    for number in range(pattern.bursts):
        if number > 0:
            samples.extend(pause)
        samples.extend(_burst(pattern, pattern.hertz * pattern.rise**number))
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE_HZ)
        sound.writeframes(samples.tobytes())
    return file.getvalue()


def _burst(pattern: Pattern, hertz: float) -> "array[int]":
    count = round(pattern.burst_s * RATE_HZ)
    samples = array("h")
    for number in range(count):
        t_s = number / RATE_HZ
        turn = 2.0 * math.pi * hertz * t_s
        shape = 0.6 * math.sin(turn) + 0.25 * math.sin(2 * turn) + 0.15 * math.sin(3 * turn)
        swell = min(1.0, t_s / EDGE_S, (pattern.burst_s - t_s) / EDGE_S)
        samples.append(round(LOUDEST * shape * swell))
    return samples
