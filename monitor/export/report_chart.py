"""The numbers that a report's charts are drawn from; `templates/chart.js` draws them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.store.columns import Column

MOST_MARKS = 40
LEAST_SPAN = {"volts": 0.5, "bath": 4.0}
"""Volts and kelvin; a narrower scale shows the steps of the meter or the probe."""

Row = tuple[float | None, ...]
Number = float | None


@dataclass(frozen=True, slots=True)
class Sign:
    """An alarm or a mark: its time in the run, a name to write beside it, its text to read."""

    t_s: float
    short: str
    text: str


@dataclass(frozen=True, slots=True)
class Foreseen:
    """A forecast when it was first made, at these amps: the cut-out's range, seconds of the run."""

    said_s: float
    said_amps: float
    low_s: float
    median_s: float
    high_s: float | None


def run_chart(
    columns: Sequence[Column],
    limit_amps: float,
    began_local_s: float,
    marks: Sequence[Sign],
    alarms: Sequence[Sign],
    foreseen: Sequence[Foreseen],
) -> dict[str, object]:
    """Amps with their limit, volts and, where a probe reads it, the bath's temperature.

    Parameters
    ----------
    began_local_s
        Seconds from 1970 to the run's start, by the clock on the wall.
    """
    panels: list[dict[str, object]] = [
        {"name": "amps, A", "unit": "A", "digits": 2, "limit": limit_amps}
        | {"low": 1, "mean": 2, "high": 3},
        {"name": "volts, V", "unit": "V", "digits": 2, "mean": 4, "least": LEAST_SPAN["volts"]},
    ]
    if any(column.celsius_mean is not None for column in columns):
        panels.append(
            {"name": "bath, C", "unit": "C", "digits": 1, "mean": 5, "least": LEAST_SPAN["bath"]}
        )
    return {
        "label": f"Amps, limit {limit_amps:g} A, volts and temperature over the run",
        "end_s": round(columns[-1].to_s, 3) if columns else 0.0,
        "began_local_s": round(began_local_s, 3),
        "panels": panels,
        "rows": list(_rows(columns, len(panels))),
        "gaps": _holes(columns),
        "fans": [
            [
                *(round(forecast.said_s, 1), round(forecast.said_amps, 3)),
                *(round(forecast.low_s, 1), round(forecast.median_s, 1)),
                round(forecast.median_s if forecast.high_s is None else forecast.high_s, 1),
            ]
            for forecast in foreseen
        ],
        "alarms": [_sign(event) for event in alarms],
        "marks": [_sign(mark) for mark in marks[:MOST_MARKS]],
    }


def index_chart(
    groups: Iterable[tuple[str, Sequence[tuple[float, float]]]], changes_s: Sequence[float]
) -> dict[str, object]:
    """A bath's conductance over its days, each set-up with its own sign.

    Parameters
    ----------
    groups
        Name of a set-up, and its jobs: local seconds since 1970, siemens.
    changes_s
        When the solution became another one.
    """
    return {
        "label": "Conductance at the start of each job",
        "name": "conductance, S",
        "groups": [
            [name, [[round(t_s), round(siemens, 5)] for t_s, siemens in jobs]]
            for name, jobs in groups
        ],
        "changes": [round(t_s) for t_s in changes_s],
    }


def _rows(columns: Sequence[Column], panels: int) -> Iterable[Row | None]:
    """Time, lowest, mean and highest amps, volts, temperature; None where nothing may be joined.

    A column between two polls has no samples and is no gap: it is left out, and the line goes on.
    """
    for column in columns:
        if column.samples == 0 or column.amps_mean is None:
            if column.is_gap or column.suspect or column.samples:
                yield None
            continue
        row = (
            round((column.from_s + column.to_s) / 2.0, 2),
            *map(_rounded, (column.amps_low, column.amps_mean, column.amps_high)),
            _rounded(column.volts_mean),
            _rounded(column.celsius_mean, 2),
        )
        yield row[: 3 + panels]


def _rounded(value: Number, digits: int = 3) -> Number:
    return None if value is None else round(value, digits)


def _holes(columns: Sequence[Column]) -> list[list[float]]:
    """Stretches without readings, seconds; columns that touch are one stretch."""
    holes: list[list[float]] = []
    for column in columns:
        if not column.is_gap or column.samples > 0:
            continue
        if holes and holes[-1][1] == column.from_s:
            holes[-1][1] = column.to_s
        else:
            holes.append([column.from_s, column.to_s])
    return holes


def _sign(sign: Sign) -> tuple[float, str, str]:
    return (round(sign.t_s, 2), sign.short, sign.text)
