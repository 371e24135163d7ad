"""The time-out of one answer: its usual value and its range, seconds."""

from typing import Annotated, TypeAlias

from annotated_types import Interval

TIMEOUT_S = 0.5
"""The longest wait for one answer where no setting says otherwise, seconds."""
TimeoutS: TypeAlias = Annotated[float, Interval(ge=0.01, le=30)]
