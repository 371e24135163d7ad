"""The keys of a description's `[talk]` that all supplies in text share."""

from collections.abc import Mapping
from typing import Annotated

from annotated_types import Interval, MaxLen
from pydantic import Field

from drivers.base.table import Table, Text
from drivers.text.talk_style import Extent, TalkStyle


class TalkStyleTable(Table):
    """How a supply talks, beside its questions and the form of its answers."""

    rest_ms: Annotated[int, Interval(ge=0, le=5000)] = 0
    ignore: Annotated[list[Text], MaxLen(8)] = Field(default_factory=list)
    starts_in_s: Annotated[float, Interval(ge=0, le=30)] = 0.0

    def style(self, extents: Mapping[str, Extent] | None = None) -> TalkStyle:
        """The same as a value."""
        return TalkStyle(self.rest_ms / 1000, tuple(self.ignore), extents or {}, self.starts_in_s)
