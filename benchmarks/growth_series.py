"""How a cost grows: the exponent over several sizes, and a picture."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

SIZE = (330, 220)
EDGE = (58, 34, 14, 40)
"""Left, top, right and bottom of a plot, pixels."""
ACROSS = 3
LATE = 1.5


@dataclass(frozen=True, slots=True)
class Series:
    """One cost against one size of the work.

    Parameters
    ----------
    what, against
        In words, such as "export to CSV" and "samples".
    unit
        Of the cost.
    points
        (size, cost), in order of size.
    most
        The exponent that it must not pass; None where none is asked.
    counted
        How many of the largest points the exponent is fitted to.
    is_flat
        True where the largest size may not cost half as much again as the dearest of the others,
        so that growth which begins late does not hide in a fit through all.
    """

    what: str
    against: str
    unit: str
    points: tuple[tuple[float, float], ...]
    most: float | None = None
    counted: int = 3
    is_flat: bool = False

    @property
    def exponent(self) -> float:
        """Slope of the line of least squares through the logarithms of the largest points.

        Examples
        --------
        >>> round(Series("a", "n", "s", ((10, 1), (100, 10), (1000, 100))).exponent, 3)
        1.0
        """
        points = [(math.log(x), math.log(max(y, 1e-12))) for x, y in self.points[-self.counted :]]
        middle_x = sum(x for x, _ in points) / len(points)
        middle_y = sum(y for _, y in points) / len(points)
        over = sum((x - middle_x) ** 2 for x, _ in points)
        return sum((x - middle_x) * (y - middle_y) for x, y in points) / over

    @property
    def ends(self) -> str:
        """The cost at the smallest and the largest size."""
        (least, first), *_, (most, last) = self.points
        return (
            f"{first:.3g} {self.unit} at {least:,.0f}, {last:.3g} {self.unit} at {most:,.0f} "
            f"{self.against}"
        )

    @property
    def is_met(self) -> bool | None:
        """Whether it grows no faster than it may.

        Examples
        --------
        >>> late = ((10, 1.0), (100, 1.0), (1000, 1.0), (10_000, 1.0), (100_000, 2.0))
        >>> Series("a", "n", "s", late, 0.2, 5, is_flat=True).is_met
        False
        """
        if self.most is None:
            return None
        costs = [cost for _, cost in self.points]
        is_late = self.is_flat and costs[-1] > LATE * max(costs[:-1])
        return self.exponent <= self.most and not is_late


def drawn(series: Sequence[Series]) -> str:
    """All of them as small plots in one SVG, both axes logarithmic."""
    rows = -(-len(series) // ACROSS)
    width, height = SIZE[0] * ACROSS, SIZE[1] * rows
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" font-family="sans-serif" font-size="11" fill="#222">',
        f'<rect width="{width}" height="{height}" fill="#fff"/>',
    ]
    for number, line in enumerate(series):
        x, y = SIZE[0] * (number % ACROSS), SIZE[1] * (number // ACROSS)
        parts.append(f'<g transform="translate({x},{y})">{_plot(line)}</g>')
    return "\n".join([*parts, "</svg>"]) + "\n"


def _plot(plotted: Series) -> str:
    left, top, right, bottom = EDGE
    wide, high = SIZE[0] - left - right, SIZE[1] - top - bottom
    xs = [math.log10(x) for x, _ in plotted.points]
    ys = [math.log10(max(y, 1e-12)) for _, y in plotted.points]
    low_x, top_x = math.floor(min(xs)), max(math.ceil(max(xs)), math.floor(min(xs)) + 1)
    low_y, top_y = math.floor(min(ys)), max(math.ceil(max(ys)), math.floor(min(ys)) + 1)

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            left + wide * (x - low_x) / (top_x - low_x),
            top + high * (top_y - y) / (top_y - low_y),
        )

    parts = [
        f'<text x="{left}" y="14" font-weight="bold">{escape(plotted.what)}</text>',
        f'<text x="{left}" y="28">{escape(plotted.unit)}; exponent {plotted.exponent:.2f}</text>',
        f'<text x="{left + wide}" y="{SIZE[1] - 8}" text-anchor="end">'
        f"{escape(plotted.against)}</text>",
    ]
    for x in range(low_x, top_x + 1):
        px, py = at(x, low_y)
        parts.append(f'<path d="M{px:.1f} {top}V{py:.1f}" stroke="#ddd"/>')
        parts.append(f'<text x="{px:.1f}" y="{py + 14:.1f}" text-anchor="middle">{_ten(x)}</text>')
    for y in range(low_y, top_y + 1):
        px, py = at(low_x, y)
        parts.append(f'<path d="M{px:.1f} {py:.1f}H{left + wide}" stroke="#ddd"/>')
        parts.append(f'<text x="{px - 4:.1f}" y="{py + 4:.1f}" text-anchor="end">{_ten(y)}</text>')
    places = [at(x, y) for x, y in zip(xs, ys, strict=True)]
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    parts.append(f'<polyline points="{line}" fill="none" stroke="#0b5394" stroke-width="1.6"/>')
    parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="#0b5394"/>' for x, y in places]
    return "".join(parts)


def _ten(power: int) -> str:
    return f"{10.0**power:g}" if -4 < power < 5 else f"1e{power}"
