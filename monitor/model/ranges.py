"""The range and usual value of each setting that bench.toml and the command line both take.

Each range is a type: pydantic checks it where a table is read, click where an option is.
"""

from typing import Annotated, TypeAlias

from annotated_types import Interval

POLL_S = 0.2
"""Seconds from one poll to the next, unless set."""
HORIZON_S = 120.0
"""How far ahead a cut-out is warned of, unless set; seconds."""

Amps: TypeAlias = Annotated[float, Interval(gt=0, le=1000)]
"""No supply of such a bench comes near 1000 A; a number above it was meant in milliamps."""
PollS: TypeAlias = Annotated[float, Interval(ge=0.05, le=10)]
HorizonS: TypeAlias = Annotated[float, Interval(ge=10, le=3600)]
Litres: TypeAlias = Annotated[float, Interval(gt=0, le=10_000)]
GaugeAwg: TypeAlias = Annotated[float, Interval(ge=-3, le=30)]
"""American wire gauge; 0 is 1/0, -3 is 4/0 (ASTM B258)."""
REACTION_S = 120.0
"""How long the operator needs to the supply, unless set; seconds."""


def ahead_s(horizon_s: float | None, reaction_s: float | None) -> float:
    """How far ahead a cut-out is warned of: the horizon, and never less than the operator's way.

    >>> ahead_s(None, None), ahead_s(None, 240.0), ahead_s(300.0, 60.0)
    (120.0, 240.0, 300.0)
    """
    return max(horizon_s or HORIZON_S, reaction_s or 0.0)


MOST_CELLS = 500
Cells: TypeAlias = Annotated[int, Interval(ge=1, le=MOST_CELLS)]
"""In series between the terminals; industrial stacks have some hundred."""
LoopMetres: TypeAlias = Annotated[float, Interval(gt=0, le=200)]
