"""Columns of a run, or jobs of a bath, in; an interactive chart as a piece of HTML out.

The one place that imports plotly, whose script goes into the page whole: it opens offline.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from monitor.base.errors import BathvigilError
from monitor.store.columns import Column

WIDTH_PX = 900
INK, LINE, BAND, LIMIT, GAP = "#1c2126", "#1f5a94", "rgba(31,90,148,0.22)", "#b00020", "#d8dce0"
ALARM, FORECAST, FAN = "#b00020", "rgba(176,90,0,0.75)", "rgba(176,90,0,0.18)"
LEAST_KELVIN = 4.0
"""A narrower temperature scale shows the probe's own steps."""
MOST_MARKS = 40
MOST_TOLD = 40
"""Forecasts with a text of their own, which costs milliseconds each; more are only drawn."""


class ChartsNotThere(BathvigilError):
    """plotly is not installed."""


@dataclass(frozen=True, slots=True)
class Sign:
    """Something that stands at one moment of a chart: a mark or an alarm, with its text."""

    t_s: float
    short: str
    text: str


@dataclass(frozen=True, slots=True)
class Foreseen:
    """A forecast as it stood when it was first said, at these amps: seconds of the run."""

    said_s: float
    said_amps: float
    low_s: float
    median_s: float
    high_s: float | None


def run_chart(
    columns: Sequence[Column],
    limit_amps: float,
    marks: Sequence[Sign],
    alarms: Sequence[Sign],
    foreseen: Sequence[Foreseen],
) -> str:
    """Amps against the limit, volts and, where there is one, temperature, over minutes.

    Raises
    ------
    ChartsNotThere
        plotly is not installed.
    """
    try:
        import plotly.graph_objects as go
        from plotly.subplots import make_subplots
    except ImportError as error:
        raise ChartsNotThere(
            "reports need plotly; install it with: pip install 'bathvigil[report]'"
        ) from error
    warm = any(column.celsius_mean is not None for column in columns)
    heights = [0.64, 0.18, 0.18] if warm else [0.76, 0.24]
    figure = make_subplots(
        rows=len(heights), cols=1, shared_xaxes=True, row_heights=heights, vertical_spacing=0.04
    )
    minutes = [(column.from_s + column.to_s) / 120.0 for column in columns]
    high = [column.amps_high for column in columns]
    # A column without amps is None in both, and the line breaks there: gaps are never bridged.
    figure.add_trace(
        go.Scatter(x=minutes, y=high, line={"width": 0}, hoverinfo="skip", showlegend=False), 1, 1
    )
    figure.add_trace(
        go.Scatter(
            x=minutes, y=[c.amps_low for c in columns], line={"width": 0}, fill="tonexty",
            fillcolor=BAND, hoverinfo="skip", showlegend=False,
        ), 1, 1,
    )  # fmt: skip
    for row, (name, unit, values, digits) in enumerate(_curves(columns, warm), 1):
        figure.add_trace(
            go.Scatter(
                x=minutes, y=values, name=name, line={"color": LINE, "width": 1.4},
                showlegend=False, hovertemplate=f"%{{x:.1f}} min: %{{y:.{digits}f}} {unit}",
            ), row, 1,
        )  # fmt: skip
        figure.update_yaxes(title_text=f"{name}, {unit}", row=row, col=1)
    figure.add_hline(
        y=limit_amps, line={"color": LIMIT, "dash": "dash", "width": 1.5}, row=1, col=1,
        annotation={"text": f"limit {limit_amps:g} A", "font": {"color": LIMIT}},
        annotation_position="top left",
    )  # fmt: skip
    # All at once: plotly takes a second for every few that are added one by one.
    figure.update_layout(shapes=[*figure.layout.shapes, *map(_grey, _holes(columns))])
    for one in foreseen[:MOST_TOLD]:
        last = one.high_s if one.high_s is not None else one.median_s
        words = escape(
            f"said at {one.said_s / 60.0:.1f} min: cut-out between {one.low_s / 60.0:.1f} and "
            f"{last / 60.0:.1f} min, most likely {one.median_s / 60.0:.1f}"
        )
        figure.add_trace(
            go.Scatter(
                x=[t / 60.0 for t in (one.said_s, one.low_s, last, one.said_s)],
                y=[one.said_amps, limit_amps, limit_amps, one.said_amps], mode="lines",
                line={"color": FORECAST, "width": 1}, fill="toself", fillcolor=FAN,
                showlegend=False, hoveron="fills", hoverinfo="text", text=words,
            ), 1, 1,
        )  # fmt: skip
        figure.add_trace(
            go.Scatter(
                x=[one.low_s / 60.0, last / 60.0], y=[limit_amps, limit_amps], mode="lines",
                line={"color": FORECAST, "width": 6}, showlegend=False, hoverinfo="skip",
            ), 1, 1,
        )  # fmt: skip
    if foreseen[MOST_TOLD:]:
        figure.add_trace(
            go.Scatter(
                **_bars(foreseen[MOST_TOLD:], limit_amps), mode="lines",
                line={"color": FORECAST, "width": 6}, showlegend=False, hoverinfo="skip",
            ), 1, 1,
        )  # fmt: skip
    top = max([limit_amps, *(value for value in high if value is not None)]) * 1.12
    ends_s = columns[-1].to_s if columns else 0.0
    _add_signs(figure, go, alarms, (top, ends_s), "triangle-down", ALARM)
    _add_signs(figure, go, marks[:MOST_MARKS], (top * 0.05, ends_s), "diamond", INK)
    figure.update_yaxes(range=[0, top * 1.06], row=1, col=1)
    if warm:
        figure.update_yaxes(range=_warm_range(columns), row=3, col=1)
    if minutes:
        figure.update_xaxes(range=[0.0, columns[-1].to_s / 60.0])
    figure.update_xaxes(title_text="minutes", row=len(heights), col=1)
    return _piece(figure, 520 if warm else 440)


def index_chart(
    groups: Sequence[tuple[str, Sequence[tuple[str, float]]]], dilutions: Sequence[str]
) -> str:
    """A bath's conductance index over its days, each set-up with its own signs.

    Parameters
    ----------
    groups
        Name of a set-up, and its days (ISO 8601) with the index, siemens.
    dilutions
        Days on which it became another solution.

    Raises
    ------
    ChartsNotThere
        plotly is not installed.
    """
    try:
        import plotly.graph_objects as go
    except ImportError as error:
        raise ChartsNotThere(
            "reports need plotly; install it with: pip install 'bathvigil[report]'"
        ) from error
    figure = go.Figure()
    signs = ("circle", "square", "diamond", "triangle-up", "cross", "x")
    for at, (name, points) in enumerate(groups):
        figure.add_trace(
            go.Scatter(
                x=[day for day, _ in points], y=[value for _, value in points], mode="markers",
                name=escape(name), marker={"symbol": signs[at % len(signs)], "size": 8},
            )
        )  # fmt: skip
    for day in dilutions:
        figure.add_vline(x=day, line={"color": INK, "dash": "dot", "width": 1})
    figure.update_yaxes(title_text="conductance at the start, S")
    figure.update_layout(legend={"orientation": "h", "y": -0.15})
    return _piece(figure, 380)


def _bars(foreseen: Sequence[Foreseen], amps: float) -> dict[str, list[float | None]]:
    """When each forecast saw the cut-out, as one broken line."""
    x: list[float | None] = []
    for one in foreseen:
        last_s = one.high_s if one.high_s is not None else one.median_s
        x += [one.low_s / 60.0, last_s / 60.0, None]
    return {"x": x, "y": [None if minutes is None else amps for minutes in x]}


def _warm_range(columns: Sequence[Column]) -> list[float]:
    found = [column.celsius_mean for column in columns if column.celsius_mean is not None]
    middle, half = (max(found) + min(found)) / 2.0, (max(found) - min(found)) / 2.0
    half = max(half * 1.1, LEAST_KELVIN / 2.0)
    return [middle - half, middle + half]


def _holes(columns: Sequence[Column]) -> list[tuple[float, float]]:
    """Stretches of columns that hold nothing, seconds; columns that touch are one stretch."""
    holes: list[tuple[float, float]] = []
    for column in columns:
        if not column.is_gap or column.samples > 0:
            continue
        if holes and holes[-1][1] == column.from_s:
            holes[-1] = (holes[-1][0], column.to_s)
        else:
            holes.append((column.from_s, column.to_s))
    return holes


def _grey(hole: tuple[float, float]) -> dict[str, object]:
    """A grey field over all curves, as plotly takes it."""
    return {
        "type": "rect",
        "xref": "x",
        "yref": "paper",
        "x0": hole[0] / 60.0,
        "x1": hole[1] / 60.0,
        "y0": 0.0,
        "y1": 1.0,
        "fillcolor": GAP,
        "layer": "below",
        "line": {"width": 0},
    }


def _curves(
    columns: Sequence[Column], warm: bool
) -> list[tuple[str, str, list[float | None], int]]:
    curves: list[tuple[str, str, list[float | None], int]] = [
        ("amps", "A", [column.amps_mean for column in columns], 2),
        ("volts", "V", [column.volts_mean for column in columns], 2),
    ]
    if warm:
        curves.append(("bath", "C", [column.celsius_mean for column in columns], 1))
    return curves


def _add_signs(
    figure: object,
    go: object,
    signs: Sequence[Sign],
    place: tuple[float, float],
    symbol: str,
    colour: str,
) -> None:
    """Signs at one height; the text of those near the end stands on their left."""
    height, ends_s = place
    if not signs:
        return
    figure.add_trace(  # type: ignore[attr-defined]  # plotly ships no types
        go.Scatter(  # type: ignore[attr-defined]  # the same
            x=[sign.t_s / 60.0 for sign in signs],
            y=[height] * len(signs),
            mode="markers+text",
            text=_said_once(signs),
            textposition=[
                "middle left" if sign.t_s > 0.75 * ends_s else "middle right" for sign in signs
            ],
            textfont={"size": 11, "color": colour},
            hovertext=[escape(sign.text) for sign in signs],
            hoverinfo="text",
            marker={"symbol": symbol, "size": 11, "color": colour},
            showlegend=False,
            cliponaxis=False,
        ),
        1,
        1,
    )


def _said_once(signs: Sequence[Sign]) -> list[str]:
    """Each short text where it stands first; "" where it stands again."""
    first: dict[str, int] = {}
    for at, sign in enumerate(signs):
        first.setdefault(sign.short, at)
    return [escape(sign.short) if first[sign.short] == at else "" for at, sign in enumerate(signs)]


def _piece(figure: object, height: int) -> str:
    figure.update_layout(  # type: ignore[attr-defined]  # plotly ships no types
        template="simple_white",
        width=WIDTH_PX,
        height=height,
        margin={"l": 64, "r": 24, "t": 16, "b": 44},
        font={"color": INK, "size": 13},
        hovermode="x",
    )
    piece: str = figure.to_html(  # type: ignore[attr-defined]  # the same
        full_html=False,
        include_plotlyjs=True,
        config={"displaylogo": False, "scrollZoom": True, "modeBarButtonsToRemove": ["toImage"]},
    )
    return f'<div class="keep">{piece}</div>'
