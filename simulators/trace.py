"""The readings of a scene at a steady rate, without a wire, for benchmarks and tests."""

from collections.abc import Iterator

from simulators.rig import Point, Rig
from simulators.scene import Scene


def trace(
    scene: Scene,
    seed: int | None = None,
    rate_hz: float = 5.0,
    duration_s: float | None = None,
    *,
    true: bool = False,
) -> Iterator[Point]:
    """Play a scene and read its supply at a steady rate.

    Parameters
    ----------
    scene
        What to play; see `simulators.scene.load_scene`.
    seed
        The scene's own if None.
    rate_hz
        Readings a second; at more than 20 a second some repeat.
    duration_s
        Seconds of bath time; the scene's own if None.
    true
        True values instead of what the meters show.

    Examples
    --------
    >>> from simulators.scene import load_scene
    >>> points = list(trace(load_scene("quiet-strip"), rate_hz=2.0, duration_s=60.0))
    >>> len(points), points[-1].t_s, points[-1].mode.value
    (121, 60.0, 'constant-voltage')
    """
    rig = Rig(scene, seed)
    last_s = scene.duration_s if duration_s is None else duration_s
    for number in range(int(last_s * rate_hz + 1e-6) + 1):
        t_s = number / rate_hz
        rig.advance_to(t_s)
        point = rig.truth() if true else rig.measured()
        yield Point(round(t_s, 6), point.volts, point.amps, point.celsius, point.mode)
